"""Open a run, and draw, add and log while it goes on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from recycling.keeping.compositions import follow_up, refuse_circle
from recycling.keeping.deed import deed
from recycling.keeping.deviations import keep_deviations
from recycling.keeping.doubted_figures import Figure
from recycling.keeping.doubts import asked_of, kept_doubts, outputs_typed, times_asked, told
from recycling.keeping.draw_checks import limits_doubted, open_too_long, refuse_held
from recycling.keeping.lookups import check_scales, lots_by_code, means_named
from recycling.keeping.lots import keep_weighings
from recycling.keeping.noted import above_limits, check_log
from recycling.keeping.open_runs import (
    When,
    add_losses,
    add_outputs,
    add_to_draw,
    going_on,
    moment_in,
    moments_in,
    one_of_several,
    open_run,
    post_in,
    times_typed,
    work_on,
)
from recycling.keeping.prepared import drawn_mg, prepare, stage_named, times_inside, times_of
from recycling.keeping.rules import check_draws
from recycling.keeping.run_log import keep_feeds, keep_log
from recycling.keeping.runs import start_run
from recycling.ledger.post import Change
from recycling.models import Run
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry, LossEntry, OutputEntry
from recycling.records.recorded import RunRecorded
from recycling.records.runs.entries import CheckEntry, RunEntry, SettingEntry
from shared.codes import read_code
from shared.errors import Collected, Refused
from shared.said import say


@deed("record")
def run_open(actor: Actor, entry: RunEntry) -> RunRecorded:
    """Start a run that goes on; what is given at once is drawn and logged.

    Raises
    ------
    Refused
        With every problem of the entry, or for a stage that is recorded whole.
    """
    declared = stage_named(entry.stage)
    if declared.border or declared.counts:
        raise Refused.because(
            "recorded-whole",
            say("{declared} happens at once; record it whole.", declared=declared.title),
            "/stage",
        )
    if entry.ended_at or entry.outputs or entry.losses or entry.heel:
        raise Refused.because(
            "open-with-end", "Open it first; outputs, losses and the end come later.", "/state"
        )
    prepared = prepare(actor, entry)
    run = start_run(actor, prepared, Run.OPEN)
    for draw in prepared.entry.inputs:
        _draw(actor, run, draw, entry.started_at)
    keep_log(actor, run, replace(entry, ended_at=None), prepared.within)
    keep_feeds(run, prepared)
    keep_deviations(actor.workshop_id, [run.pk], new=True)
    codes = [draw.lot for draw in prepared.entry.inputs]
    unsure = asked_of(actor, run, [], prepared.means, moments=times_of(entry))
    unsure += told("open-too-long", open_too_long(run, codes, entry.started_at))
    unsure += told("limit-missed", limits_doubted(run))
    return going_on(run, (), unsure)


@deed("record")
def run_draw(actor: Actor, code: str, draws: Sequence[DrawEntry], at: When = None) -> RunRecorded:
    """Draw from lots into an open run, one after the other; all of them or none.

    Raises
    ------
    Refused
        When the run is not open, with what is wrong with the first draw whose lot does not fit,
        is held or has not that much.
    """
    run, _ = open_run(actor, code)
    if not draws:
        raise Refused.because("nothing-given", "Give at least one draw.", "/inputs")
    opened: tuple[str, ...] = ()
    figures: list[Figure] = []
    moments = moments_in(run, at, "/inputs", len(draws))
    for place, (draw, moment) in enumerate(zip(draws, moments, strict=True)):
        with one_of_several("/inputs", place):
            figures.append(_draw(actor, run, draw, moment, place))
        opened += open_too_long(run, [draw.lot], moment)
    codes = {read_code(draw.lot) or draw.lot for draw in draws}
    missed = limits_doubted(run, codes)
    if run.outputs.exists():
        follow_up(actor.workshop_id, [run.pk])
    else:
        keep_deviations(actor.workshop_id, [run.pk])
    means = means_named(actor.workshop_id, [draw.weighing for draw in draws])
    unsure = asked_of(actor, run, figures, means, moments=times_typed(at, "/inputs"))
    unsure += told("open-too-long", opened) + told("limit-missed", missed)
    return going_on(run, (), unsure)


def _draw(actor: Actor, run: Run, draw: DrawEntry, at: datetime, place: int = 0) -> Figure:
    declared, found = stage_named(run.stage), Collected()
    lots = lots_by_code(actor.workshop_id, [draw.lot])
    check_draws(declared, (draw,), lots, found)
    found.refuse()
    lot = lots[draw.lot]
    check_scales(actor.workshop_id, [("/inputs/0/weighing", draw.weighing)], found)
    found.refuse()
    refuse_circle(run, lot.code, lot.made_by_id, "/inputs/0/lot")
    refuse_held(actor.workshop_id, {lot.lot_id: lot.code})
    if not declared.fed_besides(lot.form):
        work_on(run, declared, lot.polymer)
    mass_mg = drawn_mg(draw, lot)
    (posting, *_) = post_in(actor, run, "draw", at, [Change(lot.lot_id, -mass_mg)])
    keep_weighings(actor.workshop_id, actor.reference, [(posting, draw.known_by)])
    add_to_draw(run, lot.lot_id, mass_mg)
    return Figure(f"/inputs/{place}", lot.form, mass_mg, draw.known_by, lot.lot_id)


@deed("record")
def run_output_add(
    actor: Actor, code: str, outputs: Sequence[OutputEntry], at: When = None
) -> RunRecorded:
    """Add what an open run gave; each output becomes a lot.

    Raises
    ------
    Refused
        When the run is not open, has drawn nothing yet, or an output does not fit its stage.
    """
    run, _declared = open_run(actor, code)
    if not outputs:
        raise Refused.because("nothing-given", "Give at least one output.", "/outputs")
    lots = add_outputs(actor, run, outputs, moments_in(run, at, "/outputs", len(outputs)))
    keep_deviations(actor.workshop_id, [run.pk])
    means = means_named(actor.workshop_id, [one.weighing for one in outputs])
    times = times_typed(at, "/outputs")
    unsure = asked_of(actor, run, outputs_typed(outputs, lots), means, moments=times)
    return going_on(run, lots, unsure)


@deed("record")
def run_loss_add(
    actor: Actor, code: str, losses: Sequence[LossEntry], at: When = None
) -> RunRecorded:
    """Post measured losses of an open run.

    Raises
    ------
    Refused
        When the run is not open or its stage has no such loss.
    """
    run, _declared = open_run(actor, code)
    if not losses:
        raise Refused.because("nothing-given", "Give at least one loss.", "/losses")
    add_losses(actor, run, tuple(losses), moments_in(run, at, "/losses", len(losses)))
    unsure = kept_doubts(actor, run, times_asked(times_typed(at, "/losses")))
    return going_on(run, (), unsure)


@deed("record")
def run_log(
    actor: Actor,
    code: str,
    checks: tuple[CheckEntry, ...] = (),
    settings: tuple[SettingEntry, ...] = (),
) -> RunRecorded:
    """Note checks and settings of an open run, each with its time.

    Raises
    ------
    Refused
        When the run is not open or the stage notes no such thing.
    """
    run, declared = open_run(actor, code)
    found = Collected()
    within = check_log(declared, checks, settings, found)
    if not checks and not settings:
        found.add("nothing-given", "Nothing was given to note.", "")
    found.refuse()
    now = moment_in(run, None)
    entry = RunEntry(
        run.stage,
        started_at=now,
        ended_at=now,
        checks=tuple(
            replace(one, at=moment_in(run, one.at, f"/checks/{place}/at"))
            for place, one in enumerate(checks)
        ),
        settings=tuple(
            replace(one, at=moment_in(run, one.at, f"/settings/{place}/at"))
            for place, one in enumerate(settings)
        ),
    )
    keep_log(actor, run, entry, within)
    given = RunEntry(run.stage, started_at=now, checks=checks, settings=settings)
    unsure = kept_doubts(actor, run, times_asked(times_inside(given)))
    unsure += told("check-above", above_limits(declared, checks, within))
    unsure += told("limit-missed", limits_doubted(run, ("",)))
    return going_on(run, (), unsure)
