"""Runs: lists, and one whole."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from django.db.models import Q, Sum

from recycling.calc.balance.yields import stage_yield, stage_yield_share
from recycling.calc.lots.feed_order import BY_WHAT_IS_KNOWN, WELL_MIXED
from recycling.ledger.models import BORDER, PROCESS, Posting
from recycling.models import Draw, Lot, Run
from recycling.queries.balance.closures import closure_of, closure_states
from recycling.queries.balance.covered import covered
from recycling.queries.balance.known_masses import Figure, Instruments, Posted, posted_of, shown
from recycling.queries.lots.changes import changes_of
from recycling.queries.lots.deviations import deviations_of
from recycling.queries.paging import checked_limit, cursor_for, number_of, run_within
from recycling.queries.runs.logs import log_of
from recycling.records.actors import Actor
from recycling.records.lots.lots import PostingRow
from recycling.records.paging import Page
from recycling.records.runs.runs import CountLine, LossLine, RunOutput, RunRecord, RunRow
from recycling.stages import stage
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    MIXED,
    PRODUCT,
    RETURNED,
    UNACCOUNTED,
)
from shared.codes import read_code
from shared.errors import Unknown
from shared.measured import Measured, total
from shared.said import say

LEFT = (*LOSSES, DISPATCHED, DISCARDED)
COUNTED = (
    "lot__code",
    "lot__form",
    "mass_mg",
    "weighing__how",
    "weighing__scale__name",
    "weighing__raw",
    "weighing__gross_mg",
    "weighing__tare_mg",
)


def runs_page(
    actor: Actor,
    stage: str = "",
    state: str = "",
    machine: str = "",
    text: str = "",
    after: str = "",
    limit: int = 50,
    start: datetime | None = None,
    end: datetime | None = None,
) -> Page[RunRow]:
    """List runs, newest first."""
    runs = Run.objects.filter(workshop_id=actor.workshop_id).filter(run_within(start, end))
    for name, value in (("stage", stage), ("state", state), ("machine__name", machine)):
        if value:
            runs = runs.filter(**{name: value})
    if text:
        runs = runs.filter(Q(code__icontains=read_code(text) or text) | Q(note__icontains=text))
    before, limit = number_of(after), checked_limit(limit)
    if before is not None:
        runs = runs.filter(number__lt=before)
    found = list(runs.select_related("machine").order_by("-number")[: limit + 1])
    more = cursor_for(found[limit - 1].number) if len(found) > limit else ""
    return Page(tuple(run_rows(found[:limit], judge=True)), more)


def run_rows(runs: list[Run], judge: bool = False) -> list[RunRow]:
    """Show runs as rows, with their masses in three queries, and on demand how they close."""
    ids = [run.pk for run in runs]
    drawn = dict(Draw.objects.filter(run_id__in=ids).values_list("run_id").annotate(Sum("mass_mg")))
    made: dict[int, dict[str, int]] = defaultdict(dict)
    outputs = Lot.objects.filter(made_by_id__in=ids).values_list("made_by_id", "role")
    for run_id, role, mass_mg in outputs.annotate(Sum("made_mg")):
        made[run_id][role] = mass_mg
    left: dict[int, dict[str, int]] = defaultdict(dict)
    border = Posting.objects.filter(entry__process_id__in=ids, account__kind=BORDER)
    rows = border.values_list("entry__process_id", "account__name").annotate(Sum("mass_mg"))
    for run_id, name, mass_mg in rows:
        left[run_id][name] = mass_mg
    closes = closure_states(runs) if judge else {}
    return [
        RunRow(
            run.code,
            run.stage,
            run.state,
            run.polymer,
            run.machine.name if run.machine else "",
            run.started_at,
            run.ended_at,
            drawn.get(run.pk, 0),
            sum(made[run.pk].values()),
            made[run.pk].get(PRODUCT, 0),
            sum(left[run.pk].get(name, 0) for name in LOSSES),
            None if run.state == Run.OPEN else left[run.pk].get(UNACCOUNTED, 0),
            closes[run.pk].unaccounted.u if run.pk in closes else None,
            closes[run.pk].state if run.pk in closes else "",
        )
        for run in runs
    ]


def run_of(actor: Actor, code: str) -> Run:
    """Find a run of the actor's workshop, or say that there is none."""
    run = (
        Run.objects.select_related("machine", "origin", "account", "workshop")
        .filter(workshop_id=actor.workshop_id, code=read_code(code) or code)
        .first()
    )
    if run is None:
        raise Unknown.because(
            "run-unknown", say("There is no run “{code}” in this workshop.", code=code)
        )
    return run


def run_page(actor: Actor, code: str) -> RunRecord:
    """Show all there is to know of a run."""
    run = run_of(actor, code)
    instruments = Instruments(run.workshop_id)
    return record_of(run, posted_of(run, instruments), instruments)


def record_of(run: Run, posted: Posted, instruments: Instruments) -> RunRecord:
    """Show all there is to know of a run whose postings and figures were read already."""
    postings, figures = posted.postings, posted.figures
    log = log_of(run)
    inputs, outputs = log.inputs, log.outputs
    totals = _totals(postings)
    product = sum(one.mass_mg for one in outputs if one.role == PRODUCT)
    declared = stage(run.stage)
    targets = [one for one in inputs if run.polymer in (one.polymer, MIXED)]
    back = sum(one.mass_mg for one in outputs if one.role == RETURNED)
    target = sum(one.mass_mg for one in targets) - back
    target_lots = {one.lot for one in targets}
    masses = tuple(shown(one, instruments) for one in figures)
    sure_yield = _sure_yield(outputs, target_lots, figures) if product and target > 0 else None
    return RunRecord(
        code=run.code,
        stage=run.stage,
        title=declared.title if declared else run.stage,
        state=run.state,
        polymer=run.polymer,
        machine=run.machine.name if run.machine else "",
        origin=run.origin.code if run.origin else "",
        note=run.note,
        composition_model=run.composition_model or WELL_MIXED,
        order_known=_order_known(run),
        started_at=run.started_at,
        ended_at=run.ended_at,
        operators=log.operators,
        inputs=inputs,
        outputs=outputs,
        losses=_losses(postings, figures),
        counts=_counts(run, postings),
        checks=log.checks,
        settings=log.settings,
        feeds=log.feeds,
        postings=postings,
        inputs_mg=sum(one.mass_mg for one in inputs),
        product_mg=product,
        in_process_mg=totals.get(PROCESS, 0),
        unaccounted_mg=None if run.state == Run.OPEN else totals.get(UNACCOUNTED, 0),
        stage_yield=stage_yield_share(product, max(target, 0)) if outputs else None,
        u_stage_yield=sure_yield.u if sure_yield else None,
        covered_yield=covered(sure_yield) if sure_yield else None,
        figures=masses,
        closure=closure_of(run, figures, instruments),
        changes=changes_of(run.workshop_id, run.code),
        deviations=deviations_of([run.pk]),
    )


def _order_known(run: Run) -> bool | None:
    if run.state == Run.OPEN or run.composition_model == WELL_MIXED:
        return None
    return run.composition_model != BY_WHAT_IS_KNOWN


def _sure_yield(
    outputs: tuple[RunOutput, ...], targets: set[str], figures: list[Figure]
) -> Measured:
    products = {one.lot for one in outputs if one.role == PRODUCT}
    returned = {one.lot for one in outputs if one.role == RETURNED}

    def summed(sign: int, lots: set[str]) -> Measured:
        chosen = (one for one in figures if one.sign == sign and one.row["code"] in lots)
        return total(one.measured for one in chosen)

    return stage_yield(summed(-1, products), summed(1, targets) - summed(-1, returned))


def _totals(postings: tuple[PostingRow, ...]) -> dict[str, int]:
    totals: dict[str, int] = defaultdict(int)
    for posting in postings:
        totals[posting.account] += posting.mass_mg
    return totals


def _losses(postings: tuple[PostingRow, ...], figures: list[Figure]) -> tuple[LossLine, ...]:
    lines: dict[tuple[str, str], int] = defaultdict(int)
    for posting in postings:
        if posting.account in LEFT:
            lines[posting.account, posting.polymer] += posting.mass_mg
    how = {one.row["name"]: one.row["note"] for one in figures if one.row["kind"] == BORDER}
    return tuple(
        LossLine(account, polymer, mass_mg, how.get(account) or "")
        for (account, polymer), mass_mg in lines.items()
        if mass_mg
    )


def _counts(run: Run, postings: tuple[PostingRow, ...]) -> tuple[CountLine, ...]:
    if not (declared := stage(run.stage)) or not declared.counts:
        return ()
    differences: dict[str, int] = defaultdict(int)
    for posting in postings:
        differences[posting.lot] += posting.mass_mg
    rows: Any = run.counted.order_by("pk").values_list(*COUNTED)
    return tuple(
        CountLine(
            lot, form, mass_mg, differences[lot], how or "weighed", scale or "", raw or "", *read
        )
        for lot, form, mass_mg, how, scale, raw, *read in rows
    )
