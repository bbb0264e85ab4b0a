"""The day's page, what goes on, waits and is next; and the plan: what some spools take."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.urls import path
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from recycling import stages
from recycling.queries.planning.plans import (
    LEAST_SPOOL_MG,
    MOST_SPOOL_MG,
    MOST_SPOOLS,
    polymers_to_plan,
)
from recycling.queries.planning.plans import plan as plan_query
from recycling.queries.planning.today import today as today_query
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.lots.stock import Stock
from recycling.records.planning import Plan
from recycling.web.book_words import open_said, stage_said
from recycling.web.pages.read import Choice, Filter, chosen, link, reading, show
from recycling.web.templatetags.look import kg, mass_text


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


@reading
def plan(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    """Say what to collect for some spools; what cannot be is said, and stays as it was typed."""
    typed = {name: request.GET.get(name, "")[:20] for name in ("spools", "weight")}
    known = polymers_to_plan(actor)
    choices = tuple(Choice(one, one) for one in known)
    polymer = chosen(request, "polymer", choices)
    spools, spool_mg = _whole(typed["spools"] or "1"), _milligrams(typed["weight"] or "1")
    context: dict[str, Any] = {}
    if spools is None or not 1 <= spools <= MOST_SPOOLS:
        context["problem"] = _("Spools: type a whole number from 1 to %(most)s, such as 4.") % {
            "most": MOST_SPOOLS
        }
    elif spool_mg is None or not LEAST_SPOOL_MG <= spool_mg <= MOST_SPOOL_MG:
        context["problem"] = _("Weight of each: type kilograms from 0.01 to 25, such as 0.75.")
    else:
        found = plan_query(actor, spools, spool_mg, polymer)
        polymer = found.polymer
        context |= {"plan": found, "said": _plan_said(found), "chain": found.chain}
    filters = [
        Filter("spools", _("Spools"), typed["spools"] or "1"),
        Filter("weight", _("Weight of each, kg"), typed["weight"] or "1"),
        Filter("polymer", _("Plastic"), polymer or known[0], choices),
    ]
    return show(request, "planning/plan.html", "today", filters=filters, **context)


def _whole(typed: str) -> int | None:
    plain = typed.strip()
    return int(plain) if plain.isascii() and plain.isdigit() and len(plain) < 9 else None


def _milligrams(typed: str) -> int | None:
    """Read kilograms, with a point or a comma."""
    plain = typed.strip().replace(",", ".")
    if not re.fullmatch(r"[0-9]{0,6}\.?[0-9]{0,6}", plain, re.ASCII) or plain in ("", "."):
        return None
    return int(Decimal(plain) * 1_000_000)


def _plan_said(found: Plan) -> dict[str, str]:
    """Say masses and pieces of a plan as roundly as they are known."""
    bring, more, bottles = found.bring, found.more, found.bottles
    pieces = bottles.median if bottles else None
    step = 1 if (pieces or 0) < 50 else 5 if (pieces or 0) < 1000 else 50
    return {
        "weight": mass_text(found.spool_mg),
        "low": _about_kg(bring.low),
        "bring": _about_kg(bring.median),
        "high": _about_kg(bring.high),
        "more": _about_kg(more.high) if more.high else "",
        "bottles": "" if pieces is None else number_format(step * round(pieces / step)),
    }


def _about_kg(mass_mg: int | None) -> str:
    return "" if mass_mg is None else f"{kg(mass_mg, 1 if mass_mg < 100_000_000 else 0)} kg"


urlpatterns = [
    path("", today, name="today"),
    path("plan/", plan, name="plan"),
]
