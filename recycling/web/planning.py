"""The day's page: what goes on, what waits, what is held, and what to do next."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.urls import path
from django.utils.translation import gettext as _

from recycling import stages
from recycling.queries.planning.today import today as today_query
from recycling.records.actors import Actor
from recycling.records.lots.stock import Stock
from recycling.web.book_words import open_said, stage_said
from recycling.web.pages.read import link, reading, show

NEXT_STAGE = {
    "bottles": "sort",
    "clean bottles": "shred",
    "cut pieces": "shred",
    "oversize": "shred",
    "flake": "dry",
    "dried flake": "extrude",
    "caps": "dispatch",
    "rings": "dispatch",
    "labels": "discard",
    "reject": "discard",
    "fines": "discard",
}
"""Form that lies in stock → the stage that it usually waits for."""


@reading
def today(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    day = today_query(actor)
    context: dict[str, Any] = {
        "day": day,
        "verdicts": day.verdicts_waiting if actor.may("moderate") else 0,
        "waiting": _waiting(actor, day.stock),
        "steps": _first_steps(actor) if day.is_new else _steps(actor),
        "empty": day.is_new,
        "dried": [(one, open_said(one)) for one in day.dried],
    }
    return show(request, "planning/today.html", "today", **context)


def _waiting(actor: Actor, stock: Stock) -> list[dict[str, object]]:
    """List what lies in stock and waits for a stage, in the order material meets them."""
    order = [stage.key for stage in stages.STAGES]
    rows = [row for row in stock.rows if row.form in NEXT_STAGE and row.mass_mg > row.held_mg]
    rows.sort(key=lambda row: order.index(NEXT_STAGE[row.form]))
    return [
        {
            "row": row,
            "free_mg": row.mass_mg - row.held_mg,
            "stage": NEXT_STAGE[row.form],
            "url": link("record-stage", actor, NEXT_STAGE[row.form]) if actor.may("record") else "",
        }
        for row in rows
    ]


def _step(url: str, label: str, note: str, form: str, primary: bool = False) -> dict[str, object]:
    return {"url": url, "label": label, "note": note, "form": form, "primary": primary}


def _first_steps(actor: Actor) -> list[dict[str, object]]:
    steps = []
    if actor.may("manage"):
        note = _("Sources, programmes, machines, scales and containers")
        steps.append(_step(link("set-up", actor), _("Set the workshop up"), note, "run"))
    if actor.may("record"):
        count = _("What is here already, and each machine's heel")
        steps += [
            _step(link("opening-new", actor), _("Count the opening stock"), count, "heel"),
            _step(
                link("collection-new", actor),
                _("Record the first collection"),
                _("Bags of bottles: each bag becomes a lot"),
                "bottles",
                primary=True,
            ),
        ]
    return [step for step in steps if step["url"]]


def _steps(actor: Actor) -> list[dict[str, object]]:
    if not actor.may("record"):
        return []
    steps = [
        _step(link("collection-new", actor), _("Record a collection"), "", "bottles", True),
        *(
            _step(link("record-stage", actor, key), stage_said(key), "", form)
            for key, form in (("sort", "clean bottles"), ("shred", "flake"))
        ),
        _step(link("record", actor), _("Record something else"), "", "run"),
    ]
    return [step for step in steps if step["url"]]


urlpatterns = [
    path("", today, name="today"),
]
