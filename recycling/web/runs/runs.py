"""Runs: the list, and one whole with what closes it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from recycling.calc.balance.slip_changes import TWICE
from recycling.queries.process.drying_ready import ready_at
from recycling.queries.runs.runs import run_page, runs_page
from recycling.queries.setup.register import machines
from recycling.records.actors import Actor
from recycling.records.balance.closures import LikelySlip
from recycling.records.balance.known_masses import KnownMass
from recycling.records.paging import Page
from recycling.records.runs.runs import RunRecord, RunRow
from recycling.stages import STAGES
from recycling.stages.declaration import DISCARDED, DISPATCHED, ROLES
from recycling.tables.csv_text import kilograms
from recycling.web.book_words import stage_said
from recycling.web.lots import postings
from recycling.web.lots.postings import correct_url
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
    link,
    pager,
    reading,
    show,
    wants_csv,
)
from recycling.web.runs.live import live

COLUMNS = (
    "run",
    "stage",
    "state",
    "polymer",
    "machine",
    "started at",
    "ended at",
    "inputs, kg",
    "outputs, kg",
    "product, kg",
    "losses, kg",
    "unaccounted, kg",
    "uncertainty of it, kg",
    "closes",
)


@reading
def runs(request: HttpRequest, actor: Actor) -> HttpResponseBase:
    wanted, filters = _filters(request, actor)
    if wants_csv(request):

        def ask(after: str) -> Page[RunRow]:
            return runs_page(actor, **wanted, after=after, limit=EXPORT_LIMIT)

        return csv_answer(f"runs-{actor.slug}", COLUMNS, map(_cells, all_rows(ask)))
    page = runs_page(actor, **wanted, after=request.GET.get("after", ""), limit=LIST_LIMIT)
    context: dict[str, Any] = {
        "page": page,
        "pager": pager(request, page),
        "filters": filters,
        "filtered": bool(request.GET),
        "csv": csv_url(request),
        "record_url": link("record", actor) if actor.may("record") else "",
    }
    return show(request, "runs/runs.html", "runs", **context)


def _filters(request: HttpRequest, actor: Actor) -> tuple[dict[str, Any], list[Filter]]:
    each = (
        Choice("", _("any stage")),
        *(Choice(one.key, stage_said(one.key)) for one in STAGES),
    )
    states = (
        Choice("", _("any")),
        Choice("open", _("open")),
        Choice("closed", _("closed")),
        Choice("void", _("voided")),
    )
    each_machine = (
        Choice("", _("any machine")),
        *(Choice(one.name, one.name) for one in machines(actor)),
    )
    wanted = {
        "stage": chosen(request, "stage", each),
        "state": chosen(request, "state", states),
        "machine": chosen(request, "machine", each_machine),
        "text": request.GET.get("text", "")[:80],
    }
    within, days = days_asked(request)
    filters = [
        Filter("stage", _("Stage"), wanted["stage"], each),
        Filter("state", _("State"), wanted["state"], states),
        Filter("machine", _("Machine"), wanted["machine"], each_machine),
        Filter("text", _("Code or note"), wanted["text"]),
        *days,
    ]
    return {**wanted, **within}, filters


def _cells(row: RunRow) -> tuple[object, ...]:
    return (
        row.code,
        row.stage,
        row.state,
        row.polymer,
        row.machine,
        row.started_at,
        row.ended_at,
        kilograms(row.inputs_mg),
        kilograms(row.outputs_mg),
        kilograms(row.product_mg),
        kilograms(row.losses_mg),
        kilograms(row.unaccounted_mg),
        kilograms(None if row.u_unaccounted_mg is None else round(row.u_unaccounted_mg)),
        row.closes,
    )


@reading
def run(request: HttpRequest, actor: Actor, code: str) -> HttpResponseBase:
    record = run_page(actor, code)
    if wants_csv(request):
        rows = map(postings.cells, record.postings)
        return csv_answer(f"postings-{code}", postings.COLUMNS, rows)
    borders = {DISPATCHED, DISCARDED}
    context: dict[str, Any] = {
        "run": record,
        "outputs_mg": sum(output.mass_mg for output in record.outputs),
        "by_role": _by_role(record),
        "losses": [line for line in record.losses if line.account not in borders],
        "left": [line for line in record.losses if line.account in borders],
        "figures": postings.figures(
            actor, record.postings, record.figures, void=record.state == "void"
        ),
        "sure": _sure(record),
        "slips": _slips(actor, record),
        "live_key": f"page-{uuid.uuid4().hex}",
        **live(actor, record),
        "ready_at": ready_at(actor, record),
        "void_url": _void_url(actor, record),
        "facts_url": _facts_url(actor, record),
        "csv": csv_url(request),
    }
    if request.GET.get("part") == "now":
        return show(request, "runs/run_now.html", "runs", **context)
    return show(request, "runs/run.html", "runs", **context)


def _by_role(record: RunRecord) -> list[tuple[str, int]]:
    """Add up what a run gave by role, in the order of the roles."""
    masses = dict.fromkeys(ROLES, 0)
    for output in record.outputs:
        masses[output.role] += output.mass_mg
    return [(role, mass_mg) for role, mass_mg in masses.items() if mass_mg]


def _sure(record: RunRecord) -> dict[str, KnownMass]:
    """Find how sure the mass of each lot and each loss is, by lot or account."""
    return {one.lot or one.account: one for one in record.figures}


def _slips(actor: Actor, record: RunRecord) -> list[dict[str, object]]:
    """List slips that would explain what is unaccounted for, with where to set them right."""
    if record.closure is None:
        return []
    return [
        {"slip": slip, "urls": list(_corrections(actor, slip))} for slip in record.closure.slips
    ]


def _corrections(actor: Actor, slip: LikelySlip) -> Iterator[str]:
    """Lead to the figures that a line names, the first with what it would be."""
    likely_mg = 0 if slip.kind == TWICE else slip.right_mg
    for place, posting in enumerate(slip.postings):
        if url := correct_url(actor, posting):
            yield url if place or likely_mg is None else f"{url}?likely={likely_mg}"


def _facts_url(actor: Actor, record: RunRecord) -> str:
    may_correct = actor.may("correct") and record.state != "void"
    return link("run-facts", actor, record.code) if may_correct else ""


def _void_url(actor: Actor, record: RunRecord) -> str:
    may_void = actor.may("void") and record.state != "void"
    return link("run-void", actor, record.code) if may_void else ""
