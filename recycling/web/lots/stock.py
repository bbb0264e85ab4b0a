"""Stock by form and polymer, and the lots it is made of."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.queries.lots.lots import lots_page
from recycling.queries.lots.stock import stock as stock_query
from recycling.queries.setup.register import polymers
from recycling.records.actors import Actor
from recycling.records.lots.filters import LotFilter
from recycling.records.lots.lots import LotRow
from recycling.records.paging import Page
from recycling.stages import MAKING_FILAMENT, STAGES, first_of
from recycling.stages.declaration import FORMS
from recycling.tables.csv_text import kilograms
from recycling.web.book_words import stage_said
from recycling.web.pages.read import (
    EXPORT_LIMIT,
    LIST_LIMIT,
    Choice,
    Filter,
    all_rows,
    chosen,
    csv_answer,
    csv_url,
    days_asked,
    pager,
    reading,
    show,
    wants_csv,
)
from recycling.web.templatetags.look import word_for

LOT_COLUMNS = (
    "lot",
    "form",
    "polymer",
    "colour",
    "role",
    "on hand, kg",
    "made, kg",
    "run",
    "stage",
    "made at",
    "spool",
    "on hold",
)
STOCK_COLUMNS = ("form", "polymer", "lots", "on hand, kg", "on hold, kg")


def _any(label: str, choices: Iterable[Choice]) -> tuple[Choice, ...]:
    return (Choice("", label), *choices)


def state_choices() -> tuple[Choice, ...]:
    return (
        Choice("on hand", _("on hand")),
        Choice("held", _("on hold")),
        Choice("used up", _("used up")),
        Choice("any", _("all, used up ones too")),
    )


def lot_filters(
    request: HttpRequest, polymers: Iterable[str], forms: bool
) -> tuple[LotFilter, list[Filter]]:
    """Read what is looked for, and give the row of filters that shows it."""
    form_choices = _any(_("any form"), (Choice(form, word_for(form, "form")) for form in FORMS))
    stage_choices = _any(
        _("any stage"),
        (Choice(stage.key, stage_said(stage.key)) for stage in STAGES if stage.gives),
    )
    asked = request.GET.get("polymer", "")[:20]
    known = sorted({*polymers, *([asked] if asked else [])})
    polymer_choices = _any(_("any polymer"), (Choice(one, one) for one in known))
    form = chosen(request, "form", form_choices) if forms else ""
    stage = chosen(request, "stage", stage_choices)
    polymer = chosen(request, "polymer", polymer_choices)
    state = chosen(request, "state", state_choices()) or ("on hand" if forms else "any")
    text, origin = request.GET.get("text", "")[:80], request.GET.get("origin", "")[:20]
    colour = request.GET.get("colour", "")[:40]
    within, days = days_asked(request)
    wanted = LotFilter(
        form,
        polymer,
        colour,
        "" if state == "any" else state,
        stage,
        origin,
        text,
        not forms,
        **within,
    )
    filters = [
        Filter("state", _("Which"), state, state_choices()),
        *([Filter("form", _("Form"), form, form_choices)] if forms else []),
        Filter("polymer", _("Polymer"), polymer, polymer_choices),
        *([Filter("stage", _("Made by"), stage, stage_choices)] if forms else []),
        Filter("colour", _("Colour"), colour),
        Filter("text", _("Code or note"), text),
        *days,
    ]
    return wanted, filters


def lot_cells(lot: LotRow) -> tuple[object, ...]:
    return (
        lot.code,
        lot.form,
        lot.polymer,
        lot.colour,
        lot.role,
        kilograms(lot.mass_mg),
        kilograms(lot.made_mg),
        lot.run,
        lot.stage,
        lot.made_at,
        lot.spool,
        lot.held,
    )


def lots_csv(actor: Actor, name: str, wanted: LotFilter) -> HttpResponseBase:
    def ask(after: str) -> Page[LotRow]:
        return lots_page(actor, wanted, after, EXPORT_LIMIT)

    return csv_answer(name, LOT_COLUMNS, (lot_cells(lot) for lot in all_rows(ask)))


@reading
def stock(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    if wants_csv(request) == "lots":
        return lots_csv(actor, f"lots-{actor.slug}", lot_filters(request, (), forms=True)[0])
    now = stock_query(actor)
    wanted, filters = lot_filters(request, (row.polymer for row in now.rows), forms=True)
    if wants_csv(request):
        rows = (
            (row.form, row.polymer, row.lots, kilograms(row.mass_mg), kilograms(row.held_mg))
            for row in now.rows
        )
        return csv_answer(f"stock-{actor.slug}", STOCK_COLUMNS, rows)
    page = lots_page(actor, wanted, request.GET.get("after", ""), LIST_LIMIT)
    context: dict[str, Any] = {
        "stock": now,
        "filters": filters,
        "filtered": any(
            key in request.GET for key in ("form", "polymer", "stage", "text", "state")
        ),
        "page": page,
        "pager": pager(request, page),
        "stock_csv": csv_url(request, "stock"),
        "lots_csv": csv_url(request, "lots"),
    }
    return show(request, "lots/stock.html", "stock", **context)


@reading
def spools(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    known = (one.code for one in polymers(actor))
    wanted, filters = lot_filters(request, known, forms=False)
    if wants_csv(request):
        return lots_csv(actor, f"spools-{actor.slug}", wanted)
    page = lots_page(actor, wanted, request.GET.get("after", ""), LIST_LIMIT)
    context: dict[str, Any] = {
        "filters": filters,
        "filtered": bool(request.GET),
        "page": page,
        "pager": pager(request, page),
        "csv": csv_url(request),
        "spooling": first_of(MAKING_FILAMENT).key,
    }
    return show(request, "lots/spools.html", "spools", **context)
