"""A lot: what it is, who is in it, what went into what, and all that was noted of it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import lot_origins
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.lots.lots import LotRecord
from recycling.records.lots.origins import LotOrigins
from recycling.stages import STAGES, asking_polymer
from recycling.tables.csv_text import kilograms
from recycling.web.lots import postings
from recycling.web.pages.figures import composition
from recycling.web.pages.read import csv_answer, csv_url, link, reading, show, wants_csv

ORIGIN_COLUMNS = ("origin", "kind", "from", "came in at", "mass, kg", "share")
RECORDED_OF_A_LOT = ("lot-event", "lot-count", "lot-verdict")
"""Pages that a device keeps with the lot."""


@reading
def lot(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    if wants_csv(request) == "postings":
        rows = (postings.cells(row) for row in lot_page(actor, code).postings)
        return csv_answer(f"postings-{code}", postings.COLUMNS, rows)
    if getattr(request, "kept_copy", False):
        return _kept_copy(request, actor, code)
    origins = lot_origins(actor, code)
    if wants_csv(request):
        return csv_answer(f"origins-{code}", ORIGIN_COLUMNS, _origin_rows(origins))
    record = lot_page(actor, code)
    usual, others = _draws(actor, record)
    context: dict[str, Any] = {
        "lot": record,
        "form": "spool" if record.spool else record.form,
        "origins": origins,
        "figure": composition(origins) if origins.origins else None,
        "figures": postings.figures(actor, record.postings),
        "draws": usual,
        "others": others,
        "actions": _actions(actor, record),
        "origins_csv": csv_url(request, "origins"),
        "postings_csv": csv_url(request, "postings"),
    }
    return show(request, "lots/lot.html", "spools" if record.spool else "stock", **context)


def _origin_rows(origins: LotOrigins) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = [
        (
            part.code,
            part.kind,
            part.source,
            part.happened_at,
            kilograms(part.mass_mg),
            f"{part.share:.9f}",
        )
        for part in origins.origins
    ]
    share = origins.traces_mg / origins.mass_mg if origins.mass_mg else 0
    rows.append(("traces", "", "", None, kilograms(origins.traces_mg), f"{share:.9f}"))
    return rows


def deeds_on(actor: Actor, record: LotRecord) -> list[tuple[str, str]]:
    """Name the pages of what this person can do with the lot now, each with what it says."""
    wanted = [
        ("read", "spool-contents", _("What is in it, what spoilt it"), record.form == "filament"),
        ("read", "lot-labels", _("Print its label"), record.form != "heel"),
        ("read", "spool-link", _("Public address for its user"), record.spool is not None),
        ("correct", "lot-facts", _("Put the facts right"), True),
        ("hold", "lot-hold", _("Put on hold"), not record.holds and bool(record.mass_mg)),
        ("record", "lot-event", _("Note an event"), True),
        ("record", "lot-count", _("Count it"), record.form != "heel"),
        ("verdict", "lot-verdict", _("Say how it printed"), record.spool is not None),
    ]
    return [(name, label) for right, name, label, fits in wanted if fits and actor.may(right)]


def _actions(actor: Actor, record: LotRecord) -> list[dict[str, str]]:
    actions = [
        {"url": link(name, actor, record.code), "label": label}
        for name, label in deeds_on(actor, record)
    ]
    return [action for action in actions if action["url"]]


def _draws(actor: Actor, record: LotRecord) -> tuple[list[str], list[str]]:
    """Name the stages that may draw on the lot now: those that usually do, and the others."""
    if not record.mass_mg or record.holds or not actor.may("record"):
        return [], []
    asks = asking_polymer(record.form)
    needs = needs_drying_of(actor)(record.polymer) if asks else None
    can = [one for one in STAGES if record.form in one.takes and not one.counts]
    usual = [one.key for one in can if one.usually_takes(record.form, needs)]
    return usual, [one.key for one in can if one.key not in usual]


def _kept_copy(request: HttpRequest, actor: Actor, code: str) -> HttpResponse:
    """Show of a lot what a device may keep: no people, no notes, and what can be recorded of it."""
    record = lot_page(actor, code)
    usual, others = _draws(actor, record)
    context: dict[str, Any] = {
        "lot": record,
        "form": "spool" if record.spool else record.form,
        "draws": usual,
        "others": others,
        "actions": [
            {"url": link(name, actor, record.code), "label": label}
            for name, label in deeds_on(actor, record)
            if name in RECORDED_OF_A_LOT
        ],
    }
    return show(request, "lots/lot_kept.html", "spools" if record.spool else "stock", **context)
