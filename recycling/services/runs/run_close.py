"""Close an open run: what is left of its work in process is unaccounted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from recycling.keeping.compositions import follow_up
from recycling.keeping.deed import deed
from recycling.keeping.doubts import asked_of, outputs_typed, spans_asked, told
from recycling.keeping.draw_checks import limits_doubted
from recycling.keeping.lookups import check_polymers, means_named
from recycling.keeping.lots import NewLot, make_lots
from recycling.keeping.noted import above_limits, check_log, check_required
from recycling.keeping.open_runs import (
    add_losses,
    add_outputs,
    in_process_mg,
    moment_in,
    open_run,
    polymer_of,
    post_in,
    set_polymer,
)
from recycling.keeping.output_rules import check_heel
from recycling.keeping.prepared import times_inside
from recycling.keeping.run_log import keep_log
from recycling.keeping.runs import closing_change, take_known_order
from recycling.ledger.models import Entry
from recycling.ledger.post import Change
from recycling.models import Draw, Lot, Run
from recycling.queries.lots.deviations import deviations_of
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import HeelEntry, LossEntry, OutputEntry
from recycling.records.recorded import RunRecorded, recorded
from recycling.records.runs.entries import CheckEntry, RunEntry
from recycling.stages.declaration import HEEL, Stage
from shared.errors import Collected
from shared.said import say


@deed("record")
def run_close(
    actor: Actor,
    code: str,
    ended_at: datetime | None = None,
    outputs: Sequence[OutputEntry] = (),
    losses: tuple[LossEntry, ...] = (),
    heel: HeelEntry | None = None,
    checks: tuple[CheckEntry, ...] = (),
) -> RunRecorded:
    """Close a run with its last outputs, losses, checks and heel.

    Raises
    ------
    Refused
        When the run is not open, drew nothing, misses a needed check, or ends too early.
    """
    run, declared = open_run(actor, code)
    at = moment_in(run, ended_at, "/ended_at")
    found = Collected()
    _check_end(run, declared, at, found)
    check_heel(declared, heel, found)
    within = check_log(declared, checks, (), found)
    noted = set(run.checks.values_list("key", flat=True)) | {check.key for check in checks}
    check_required(declared, noted, found)
    if heel:
        check_polymers(actor.workshop_id, {"/heel/polymer": heel.polymer}, found)
    found.refuse()
    set_polymer(run, polymer_of(run))
    lots = add_outputs(actor, run, outputs, [at] * len(outputs)) if outputs else []
    add_losses(actor, run, losses, [at] * len(losses))
    if heel:
        lots += _leave_heel(actor, run, heel, at)
    rest_mg = in_process_mg(run)
    if rest_mg:
        post_in(actor, run, "close", at, closing_change(actor.workshop_id, run.polymer, rest_mg))
    run.state, run.ended_at = Run.CLOSED, at
    run.save(update_fields=["state", "ended_at"])
    keep_log(actor, run, RunEntry(run.stage, at, at, checks=checks), within)
    take_known_order(run)
    follow_up(actor.workshop_id, [run.pk])
    drawn = sum(Draw.objects.filter(run=run).values_list("mass_mg", flat=True))
    means = means_named(actor.workshop_id, [one.weighing for one in outputs])
    noted_now = [(f"/checks/{n}/value", one.key, one.value) for n, one in enumerate(checks)]
    spans = spans_asked(declared, run, noted_now)
    moments = [("/ended_at", ended_at), *times_inside(RunEntry(run.stage, at, checks=checks))]
    typed = outputs_typed(outputs, lots)
    unsure = asked_of(actor, run, typed, means, drawn, spans, moments)
    unsure += told("check-above", above_limits(declared, checks, within))
    unsure += told("limit-missed", limits_doubted(run))
    said = deviations_of([run.pk])
    return recorded(run.code, run.stage, drawn, lots, rest_mg, unsure, said)


def _check_end(run: Run, declared: Stage, at: datetime, found: Collected) -> None:
    drawn = Draw.objects.filter(run=run, mass_mg__gt=0).count()
    if drawn < max(1, declared.least_lots):
        needs = f"{declared.title} draws at least {max(1, declared.least_lots)}"
        found.add(
            "inputs-missing",
            say(
                "{needs} {words}; {value} was drawn. Draw what it used, or void it.",
                needs=needs,
                words="lots" if declared.least_lots > 1 else "lot",
                value=drawn or "nothing",
            ),
            "/inputs",
        )
    last = Entry.objects.filter(process_id=run.pk).order_by("-happened_at").first()
    if last and last.happened_at > at:
        found.add(
            "end-before-entries",
            "Something of this run happened after that end; give a later end.",
            "/ended_at",
        )


def _leave_heel(actor: Actor, run: Run, heel: HeelEntry, at: datetime) -> list[Lot]:
    new = NewLot(HEEL, heel.polymer or run.polymer, heel.mass_mg, HEEL, machine_id=run.machine_id)
    lots = make_lots(actor.workshop_id, run.pk, [new])
    post_in(actor, run, "output", at, [Change(lot.pk, lot.made_mg) for lot in lots])
    return lots
