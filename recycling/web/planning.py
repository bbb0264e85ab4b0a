"""The day's page: what goes on, what waits, what is held, and what to do next."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.urls import path
from django.utils.translation import gettext as _

from recycling import stages
from recycling.queries.planning.today import today as today_query
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.lots.stock import Stock
from recycling.web.book_words import open_said, stage_said
from recycling.web.pages.read import link, reading, show


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
        "drying": stages.first_of(stages.DRYING).key,
    }
    return show(request, "planning/today.html", "today", **context)


def _waiting(actor: Actor, stock: Stock) -> list[dict[str, object]]:
    """List what lies in stock and waits for a stage, in the order material meets them."""
    needs = needs_drying_of(actor)
    waiting = [
        (row, next_stage)
        for row in stock.rows
        if row.mass_mg > row.held_mg
        and (next_stage := stages.next_stage(row.form, needs(row.polymer)))
    ]
    waiting.sort(key=lambda one: stages.STAGES.index(one[1]))
    return [
        {
            "row": row,
            "free_mg": row.mass_mg - row.held_mg,
            "stage": one.key,
            "url": link("record-stage", actor, one.key) if actor.may("record") else "",
        }
        for row, one in waiting
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
            _step(link("record-stage", actor, one.key), stage_said(one.key), "", one.gives[0].form)
            for one in [one for one in stages.STAGES if one.works and one.usual][:2]
        ),
        _step(link("record", actor), _("Record something else"), "", "run"),
    ]
    return [step for step in steps if step["url"]]


urlpatterns = [
    path("", today, name="today"),
]
