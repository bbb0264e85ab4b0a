"""How closed runs close by what is usual here, what may have happened, and what to look at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from django.db.models import Q

from recycling.calc.balance.closure import Closure, closure, uncertainty, worst_first
from recycling.calc.balance.known_masses import ASSUMPTIONS
from recycling.calc.balance.usual_loss import STATES, band
from recycling.models import Run
from recycling.queries.balance.balance import checked_period
from recycling.queries.balance.covered import covered
from recycling.queries.balance.earlier_runs import Closing, EarlierRuns
from recycling.queries.balance.known_masses import CHUNK, Figure, Instruments, figures_by_run
from recycling.queries.balance.loss_drifts import drifts
from recycling.queries.balance.slip_lines import likely_slips, to_correct, usual_sentence
from recycling.queries.balance.slips import Explanation, Flagged, explanations, left_over_of
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.records.actors import Actor
from recycling.records.balance.closures import Closures, RunClosure
from recycling.stages import Keys

CLOSING = Keys(lambda one: one.works)
"""Stages whose runs draw, give, and close."""

NOT_WITHIN = "not within weighing"
"""Stands for the states that are to be looked at, in what is asked."""

BOUNDS_KEYS = ("within_u", "usual_sd", "open_sd")
ASSUMED_KEYS = ("counted_u_percent", "estimated_u_percent", "no_scale_step_g")
"""Settings of the workshop that how a run closes may rest on."""


def closures(
    actor: Actor,
    start: datetime,
    end: datetime,
    stage: str = "",
    state: str = "",
    after: str = "",
    limit: int = 50,
) -> Closures:
    """List runs that ended in a period by how they close, the worst first.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    runs = Run.objects.filter(
        workshop_id=actor.workshop_id,
        state=Run.CLOSED,
        stage__in=CLOSING,
        ended_at__gte=start,
        ended_at__lt=end,
    )
    if stage:
        runs = runs.filter(stage=stage)
    found = {run.code: run for run in runs.select_related("machine", "origin")}
    instruments = Instruments(actor.workshop_id)
    figures = figures_by_run(actor.workshop_id, Q(entry__process__run__in=runs), instruments)
    asked = [run for run in found.values() if run.pk in figures]
    earlier = EarlierRuns.of(instruments, asked) if asked else None
    judged = {run.code: judge(run, figures[run.pk], earlier) for run in asked if earlier}
    states = [one.state for one in judged.values()]
    ranked = [code for code in worst_first(judged) if _wanted(judged[code].state, state)]
    place, limit = number_of(after) or 0, checked_limit(limit)
    shown = ranked[place : place + limit]
    more = cursor_for(place + limit) if len(ranked) > place + limit else ""
    chosen = {code: (found[code], figures[found[code].pk], judged[code]) for code in shown}
    rows = tuple(run_closures(chosen.values(), earlier)) if earlier else ()
    rests_on = BOUNDS_KEYS + (ASSUMED_KEYS if any(one.assumed for one in rows) else ())
    within, usual, to_look_at, still_open = (states.count(one) for one in STATES)
    return Closures(
        within=within,
        to_look_at=to_look_at,
        open=still_open,
        rows=rows,
        next=more,
        rests_on=tuple(instruments.practice[key] for key in rests_on),
        usual=usual,
        drifts=drifts([(run, judged[run.code]) for run in asked]),
    )


def _wanted(state: str, asked: str) -> bool:
    return asked in ("", state) or (asked == NOT_WITHIN and state in STATES[2:])


def closure_states(runs: Sequence[Run]) -> dict[int, Closure]:
    """Judge how each of some runs of one workshop closes, by the run's key."""
    closed = [run for run in runs if closes(run)]
    return closures_by_run(Instruments(runs[0].workshop_id), closed) if closed else {}


def closures_by_run(instruments: Instruments, runs: Sequence[Closing]) -> dict[int, Closure]:
    """Judge how runs that are closed close, by the run's key.

    All that a closed run took in and did not give is unaccounted for, so its figures say it.
    """
    if not runs:
        return {}
    found: dict[int, Closure] = {}
    earlier = EarlierRuns.of(instruments, runs)
    by_id = {run.pk: run for run in runs}
    run_ids = list(by_id)
    for start in range(0, len(run_ids), CHUNK):
        inside = Q(entry__process_id__in=run_ids[start : start + CHUNK])
        for run_id, listed in figures_by_run(instruments.workshop_id, inside, instruments).items():
            found[run_id] = judge(by_id[run_id], listed, earlier)
    return found


def closes(run: Run) -> bool:
    """Whether there is something to close: not open, not void, and more than a border."""
    return run.state == Run.CLOSED and run.stage in CLOSING


def closure_of(run: Run, figures: list[Figure], instruments: Instruments) -> RunClosure | None:
    """Say how one run closes; None for one that is open or void, or only crosses the border."""
    if not closes(run):
        return None
    earlier = EarlierRuns.of(instruments, [run])
    (found,) = run_closures([(run, figures, judge(run, figures, earlier))], earlier)
    return found


def judge(run: Closing, figures: list[Figure], earlier: EarlierRuns) -> Closure:
    """Judge what is unaccounted for in a closed run by the runs that ended before it."""
    left = left_over_of(figures)
    went_in_mg = sum(-one.mass_mg for one in figures if one.mass_mg < 0)
    usual = earlier.usual(run)
    u_mg = uncertainty(left, usual.runs)
    usually = band(usual, went_in_mg, u_mg, earlier.instruments.bounds)
    return closure(left, usually, went_in_mg)


def run_closures(
    judged: Iterable[tuple[Run, list[Figure], Closure]], earlier: EarlierRuns
) -> list[RunClosure]:
    """Show how runs close, and of those that are to be looked at what may have happened."""
    listed = list(judged)
    flagged = [
        Flagged(run, figures, uncertainty(found.unaccounted, found.band.runs))
        for run, figures, found in listed
        if found.flagged
    ]
    why = explanations(flagged, earlier)
    return [_run_closure(*one, why) for one in listed]


def _run_closure(
    run: Run, figures: list[Figure], found: Closure, why: Mapping[int, Explanation]
) -> RunClosure:
    assert run.ended_at is not None
    explanation, usual = why.get(run.pk), found.band
    went_in_mg = sum(abs(one.mass_mg) for one in figures if one.sign > 0)
    slips = likely_slips(run.pk, explanation) if explanation else ()
    return RunClosure(
        run=run.code,
        stage=run.stage,
        polymer=run.polymer,
        machine=run.machine.name if run.machine else "",
        ended_at=run.ended_at,
        inputs_mg=went_in_mg,
        unaccounted_mg=round(found.unaccounted.value),
        u_mg=found.unaccounted.u,
        state=found.state,
        direction=found.direction,
        assumed=any(one.sure.basis in ASSUMPTIONS for one in figures),
        usual_low_mg=round(usual.low_mg),
        usual_high_mg=round(usual.high_mg),
        usual_runs=usual.runs,
        sentence=usual_sentence(run.stage, found, went_in_mg),
        slips=slips,
        named=bool(explanation and explanation.explained.named),
        to_correct=to_correct(figures, slips, explanation) if explanation else (),
        covered=covered(found.unaccounted),
    )
