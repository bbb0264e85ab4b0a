"""How closed runs close, which slips would explain it, and which to look at first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Q, Sum

from recycling.calc.balance.closure import (
    STATES,
    Bounds,
    Closure,
    Reading,
    closure,
    likely_slips,
    worst_first,
)
from recycling.calc.balance.known_masses import ASSUMPTIONS, left_over
from recycling.ledger.models import Posting
from recycling.models import Run
from recycling.queries.balance.balance import checked_period
from recycling.queries.balance.covered import covered
from recycling.queries.balance.known_masses import CHUNK, Figure, Instruments, figures_by_run
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.records.actors import Actor
from recycling.records.balance.closures import Closures, LikelySlip, RunClosure, ToCorrect
from recycling.stages import Keys
from recycling.stages.declaration import UNACCOUNTED
from shared.measured import Measured

CLOSING = Keys(lambda one: one.works)
"""Stages whose runs draw, give, and close."""

NOT_WITHIN = "not within weighing"
"""Stands for all states but the first, in what is asked."""

MOST_TO_CORRECT = 3
BOUNDS_KEYS = ("within_u", "open_u")
ASSUMED_KEYS = ("counted_u_percent", "estimated_u_percent", "no_scale_step_g")
"""Settings of the workshop that how a run closes may rest on."""

Tares = dict[str, int]


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
    found = {run.code: run for run in runs.select_related("machine")}
    inside = Q(entry__process__run__in=runs)
    instruments = Instruments(actor.workshop_id)
    judged = _judged(instruments, inside, {run.pk: run.code for run in found.values()})
    states = [one.state for one, _ in judged.values()]
    ranked = [
        code
        for code in worst_first({code: one for code, (one, _) in judged.items()})
        if _wanted(judged[code][0].state, state)
    ]
    place, limit = number_of(after) or 0, checked_limit(limit)
    shown = ranked[place : place + limit]
    more = cursor_for(place + limit) if len(ranked) > place + limit else ""
    rows = tuple(run_closure(found[code], *judged[code], instruments) for code in shown)
    rests_on = BOUNDS_KEYS + (ASSUMED_KEYS if any(one.assumed for one in rows) else ())
    within, to_look_at, still_open = (states.count(one) for one in STATES)
    return Closures(
        within=within,
        to_look_at=to_look_at,
        open=still_open,
        rows=rows,
        next=more,
        rests_on=tuple(instruments.practice[key] for key in rests_on),
    )


def _wanted(state: str, asked: str) -> bool:
    return asked in ("", state) or (asked == NOT_WITHIN and state != STATES[0])


def _judged(
    instruments: Instruments, inside: Q, codes: dict[int, str]
) -> dict[str, tuple[Closure, list[Figure]]]:
    workshop_id = instruments.workshop_id
    figures = figures_by_run(workshop_id, inside, instruments)
    posted = dict(
        Posting.objects.filter(inside, entry__book_id=workshop_id, account__name=UNACCOUNTED)
        .values_list("entry__process_id")
        .order_by()
        .annotate(Sum("mass_mg"))
    )
    return {
        code: (judged(figures[run_id], posted.get(run_id, 0), instruments.bounds), figures[run_id])
        for run_id, code in codes.items()
        if run_id in figures
    }


def closure_states(runs: Sequence[Run]) -> dict[int, Closure]:
    """Judge how each of some runs of one workshop closes, by the run's key."""
    closed = [run.pk for run in runs if closes(run)]
    return closures_by_run(Instruments(runs[0].workshop_id), closed) if closed else {}


def closures_by_run(instruments: Instruments, run_ids: Sequence[int]) -> dict[int, Closure]:
    """Judge how runs that are closed close, by the run's key.

    All that a closed run took in and did not give is unaccounted for, so its figures say it.
    """
    found: dict[int, Closure] = {}
    for start in range(0, len(run_ids), CHUNK):
        inside = Q(entry__process_id__in=run_ids[start : start + CHUNK])
        for run_id, listed in figures_by_run(instruments.workshop_id, inside, instruments).items():
            found[run_id] = closure(_left_over(listed), instruments.bounds)
    return found


def closes(run: Run) -> bool:
    """Whether there is something to close: not open, not void, and more than a border."""
    return run.state == Run.CLOSED and run.stage in CLOSING


def closure_of(
    run: Run, figures: list[Figure], unaccounted_mg: int, instruments: Instruments
) -> RunClosure | None:
    """Say how one run closes; None for one that is open or void, or only crosses the border."""
    if not closes(run):
        return None
    found = judged(figures, unaccounted_mg, instruments.bounds)
    return run_closure(run, found, figures, instruments)


def judged(figures: list[Figure], unaccounted_mg: int, bounds: Bounds) -> Closure:
    """Judge what is unaccounted for in a run by how sure its figures are."""
    return closure(Measured.of(unaccounted_mg, _left_over(figures).parts), bounds)


def _left_over(figures: list[Figure]) -> Measured:
    return left_over((f.sign, abs(f.mass_mg), f.sure) for f in figures)


def run_closure(
    run: Run, found: Closure, figures: list[Figure], instruments: Instruments
) -> RunClosure:
    """Show how a run closes, with the slips that would explain it."""
    slips = _slips(found, figures, instruments.tares, instruments.bounds)
    assert run.ended_at is not None
    return RunClosure(
        run=run.code,
        stage=run.stage,
        polymer=run.polymer,
        machine=run.machine.name if run.machine else "",
        ended_at=run.ended_at,
        inputs_mg=sum(abs(one.mass_mg) for one in figures if one.sign > 0),
        unaccounted_mg=round(found.unaccounted.value),
        u_mg=found.unaccounted.u,
        state=found.state,
        direction=found.direction,
        assumed=any(one.sure.basis in ASSUMPTIONS for one in figures),
        slips=slips,
        to_correct=_to_correct(found, figures, slips),
        covered=covered(found.unaccounted),
    )


def _label(one: Figure) -> str:
    row = one.row
    return f"{row['code']} {row['form']}" if row["code"] else row["name"]


def _slips(
    found: Closure, figures: list[Figure], tares: Tares, bounds: Bounds
) -> tuple[LikelySlip, ...]:
    typed = {f"{_label(one)} ({place})": one for place, one in enumerate(figures, 1)}
    typed = {name: one for name, one in typed.items() if not one.by_book and one.mass_mg}
    names = {name: _label(one) for name, one in typed.items()}
    readings = [_reading(name, one, tares) for name, one in typed.items()]
    return tuple(
        LikelySlip(
            slip.kind,
            _plain(slip.sentence, names),
            round(slip.left_mg),
            tuple(typed[name].row["pk"] for name in slip.labels),
        )
        for slip in likely_slips(found.unaccounted, readings, tares, bounds=bounds)
    )


def _plain(sentence: str, names: dict[str, str]) -> str:
    for name, label in names.items():
        sentence = sentence.replace(name, label)
    return sentence


def _reading(name: str, one: Figure, tares: Tares) -> Reading:
    taken = tuple(box for box, tare_mg in tares.items() if tare_mg == one.known.tare_mg)
    gross_mg = one.known.mass_mg + one.known.tare_mg
    side = "in" if one.sign > 0 else "out"
    return Reading(name, side, gross_mg, one.known.tare_mg, taken)


def _to_correct(
    found: Closure, figures: list[Figure], slips: tuple[LikelySlip, ...]
) -> tuple[ToCorrect, ...]:
    """Name what to look at first: what a slip names, else the least sure figures."""
    if found.state == STATES[0]:
        return ()
    suspected = [posting for slip in slips for posting in slip.postings]
    ranked = sorted(
        (one for one in figures if not one.by_book),
        key=lambda one: (
            suspected.index(one.row["pk"]) if one.row["pk"] in suspected else len(suspected),
            -one.sure.u_mg,
        ),
    )
    wanted = min(len(set(suspected)), MOST_TO_CORRECT) or 1
    return tuple(
        ToCorrect(one.row["pk"], _label(one), abs(one.mass_mg), _likely_mg(one, found, slips))
        for one in ranked[:wanted]
    )


def _likely_mg(one: Figure, found: Closure, slips: tuple[LikelySlip, ...]) -> int | None:
    """Take the effect of the likeliest slip of this figure alone away from it."""
    for slip in slips:
        if slip.postings == (one.row["pk"],):
            effect_mg = round(found.unaccounted.value) - slip.left_mg
            likely_mg = abs(one.mass_mg) - one.sign * effect_mg
            return likely_mg if likely_mg > 0 else None
    return None
