"""Runs to look at: how they close, which slip would explain it, and the way to put it right."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.calc.balance.usual_loss import STATES
from recycling.queries.balance.closures import CLOSING, NOT_WITHIN, closures
from recycling.records.actors import Actor
from recycling.records.balance.closures import RunClosure, ToCorrect
from recycling.records.paging import Page
from recycling.tables.csv_text import covered_cells, covered_columns, kilograms, mg_as_kilograms
from recycling.web.balance.doubts import waiting_here
from recycling.web.book_words import said
from recycling.web.pages.filters import days, filter_by, stage_choices
from recycling.web.pages.periods import period_context
from recycling.web.pages.read import (
    EXPORT_LIMIT,
    LIST_LIMIT,
    all_rows,
    csv_answer,
    csv_url,
    link,
    pager,
    reading,
    show,
    wants_csv,
)

COLUMNS = (
    "run",
    "stage",
    "machine",
    "ended at",
    "inputs, kg",
    "unaccounted, kg",
    "standard uncertainty, kg",
    *covered_columns("kg"),
    "usual from, kg",
    "usual to, kg",
    "learnt from runs",
    "state",
    "direction",
    "rests on an assumption",
    "likely slip",
)


@reading
def closures_page(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    stage = filter_by(request, "stage", _("Stage"), stage_choices(CLOSING))
    states = [
        (NOT_WITHIN, _("check it, or does not balance")),
        *((one, said(one, "closes")) for one in STATES),
        ("any", _("any")),
    ]
    state = filter_by(request, "state", _("Does it balance?"), states)
    wanted = "" if state.value == "any" else state.value
    context = period_context(request, (stage, state))
    period = context["period"]
    asked = (actor, period.start, period.end, stage.value, wanted)
    if wants_csv(request):

        def page_of(after: str) -> Page[RunClosure]:
            part = closures(*asked, after, EXPORT_LIMIT)
            return Page(part.rows, part.next)

        return csv_answer(f"closures-{days(period)}", COLUMNS, map(_cells, all_rows(page_of)))
    found = closures(*asked, request.GET.get("after", ""), LIST_LIMIT)
    return show(
        request,
        "balance/closures.html",
        "runs",
        **context,
        found=found,
        doubts=[] if request.GET.get("after") else waiting_here(actor),
        rows=[_row(actor, one) for one in found.rows],
        pager=pager(request, Page(found.rows, found.next)),
        csv=csv_url(request),
        balance=found.within + found.usual,
        all_in_all=found.within + found.usual + found.to_look_at + found.open,
    )


def _row(actor: Actor, one: RunClosure) -> dict[str, Any]:
    may = actor.may("correct")
    return {
        "run": one,
        "corrections": [{"what": each, "url": _correction(actor, each)} for each in one.to_correct]
        if may
        else [],
    }


def _correction(actor: Actor, each: ToCorrect) -> str:
    """Lead to the form, with the figure that a likely slip leaves where one is named."""
    url = link("posting-correct", actor, each.posting)
    return url if each.likely_mg is None else f"{url}?likely={each.likely_mg}"


def _cells(one: RunClosure) -> tuple[object, ...]:
    return (
        one.run,
        one.stage,
        one.machine,
        one.ended_at,
        kilograms(one.inputs_mg),
        kilograms(one.unaccounted_mg),
        kilograms(round(one.u_mg)),
        *covered_cells(one.covered, mg_as_kilograms),
        kilograms(one.usual_low_mg),
        kilograms(one.usual_high_mg),
        one.usual_runs,
        one.state,
        one.direction,
        one.assumed,
        one.slips[0].text if one.slips else "",
    )
