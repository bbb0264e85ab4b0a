"""How much to bring for so many spools, by this workshop's own yields, and what is there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from recycling import stages
from recycling.calc.planning.chain import (
    Step,
    made_of,
    needed,
    own_yields,
    pieces,
    runs_ahead,
    spread_of,
    to_the_end,
    whole_spools,
)
from recycling.calc.planning.step_yield import (
    RUNS_KEPT,
    Draws,
    PastRun,
    chance_of_failure,
    first_yield,
    learn,
)
from recycling.ledger.sql import rows
from recycling.models import Lot, Run
from recycling.queries.balance.weighings import samples
from recycling.queries.lots.stock import stock
from recycling.queries.setup.practice import needs_drying_of
from recycling.records.actors import Actor
from recycling.records.lots.stock import StockRow
from recycling.records.planning import About, Plan, PlanStep
from recycling.stages.declaration import HEEL, MIXED, PRODUCT, RECIRCULATE, RETURNED, SPOOLED, Stage
from shared.errors import Refused
from shared.measured import Measured
from shared.said import say

MOST_SPOOLS = 500
LEAST_SPOOL_MG, MOST_SPOOL_MG = 10_000, 25_000_000
FIRST_POLYMER = "PET"
USUAL_MG = 5_000_000
"""What goes into a run where none was recorded."""

_RUNS = """
SELECT * FROM (
SELECT r.stage, r.ended_at, r.account_id, r.machine_id,
       (SELECT SUM(d.mass_mg) FROM recycling_draw d
          JOIN recycling_lot l ON l.account_id = d.lot_id
         WHERE d.run_id = r.account_id AND l.polymer IN (r.polymer, %s)),
       (SELECT SUM(l.made_mg) FROM recycling_lot l
         WHERE l.made_by_id = r.account_id AND l.role = %s AND l.polymer = r.polymer),
       (SELECT SUM(l.made_mg) FROM recycling_lot l
         WHERE l.made_by_id = r.account_id AND l.role IN (%s, %s, %s) AND l.polymer = r.polymer),
       (SELECT MIN(o.source_id) FROM recycling_draw d
          JOIN recycling_lot l ON l.account_id = d.lot_id
          JOIN recycling_origin o ON o.id = l.origin_id
         WHERE d.run_id = r.account_id)
  FROM recycling_run r
 WHERE r.workshop_id = %s AND r.stage = %s AND r.polymer = %s AND r.state = 'closed'
 ORDER BY r.ended_at DESC, r.account_id DESC LIMIT %s) AS newest
"""


def plan(actor: Actor, spools: int = 1, spool_mg: int = 1_000_000, polymer: str = "") -> Plan:
    """Say what to bring for some spools of a polymer, and what can be made of what is there.

    Parameters
    ----------
    actor : Actor
        Who asks; any member may.
    spools, spool_mg : int
        How many, and what is on each, mg.
    polymer : str
        Code of the polymer; empty for the one that was last made into filament.

    Raises
    ------
    Refused
        For a number or a weight of spools that no workshop makes.
    """
    _checked(spools, spool_mg)
    polymer = polymer.strip() or _last_polymer(actor)
    on_hand = [row for row in stock(actor).rows if row.polymer == polymer]
    dries = needs_drying_of(actor)(polymer)
    path = _path(dries)
    past, usual = _past(actor, polymer, path)
    steps = [
        Step(one.key, learn(past[one.key], first_yield(one.key)), usual[one.key]) for one in path
    ]
    product = float(spools * spool_mg)
    rest = to_the_end(steps, runs_ahead(steps, product))
    waits = _waiting(on_hand, path, dries)
    made = made_of(steps, rest, waits)
    last = made_of(steps, rest, {path[-1].key: waits[path[-1].key]})
    bring = needed(product, rest)
    return Plan(
        polymer=polymer,
        spools=spools,
        spool_mg=spool_mg,
        bring=_about(bring),
        bottles=_bottles(actor, bring),
        more=_about(needed(product, rest, made)),
        ready_mg=round(waits[path[-1].key]),
        ready_spools=whole_spools(spread_of(last).low, spool_mg),
        there_mg=round(sum(waits.values())),
        there_spools=whole_spools(spread_of(made).low, spool_mg),
        chain=_share(rest[0]),
        steps=tuple(
            _step(step, own, waits) for step, own in zip(steps, own_yields(rest), strict=True)
        ),
        assumed=any(not step.learnt.runs for step in steps),
    )


def polymers_to_plan(actor: Actor) -> list[str]:
    """List the polymers of which filament was made here, in order; PET before the first."""
    made = Lot.objects.filter(workshop_id=actor.workshop_id, form__in=SPOOLED).exclude(
        polymer=MIXED
    )
    found = made.order_by("polymer").values_list("polymer", flat=True).distinct()
    return list(found[:50]) or [FIRST_POLYMER]


def _checked(spools: int, spool_mg: int) -> None:
    if not 1 <= spools <= MOST_SPOOLS:
        raise Refused.because(
            "number-out-of-bounds",
            say("A whole number from {low} to {high}.", low=1, high=MOST_SPOOLS),
            "/spools",
        )
    if not LEAST_SPOOL_MG <= spool_mg <= MOST_SPOOL_MG:
        raise Refused.because(
            "number-out-of-bounds",
            say("A whole number from {low} to {high}.", low=LEAST_SPOOL_MG, high=MOST_SPOOL_MG),
            "/spool_mg",
        )


def _last_polymer(actor: Actor) -> str:
    made = Run.objects.filter(
        workshop_id=actor.workshop_id, state=Run.CLOSED, stage__in=list(stages.MAKING_FILAMENT)
    )
    last = made.order_by("-ended_at").values_list("polymer", flat=True).first()
    return last or FIRST_POLYMER


def _path(needs_drying: bool | None) -> list[Stage]:
    """Follow what is collected from step to step until filament is made."""
    form, path = stages.first_of(stages.RECEIVING).gives[0].form, []
    while (step := stages.next_stage(form, needs_drying)) and step not in path:
        path.append(step)
        if step.makes_filament:
            break
        form = next(output.form for output in step.gives if output.role == PRODUCT)
    return path


def _past(
    actor: Actor, polymer: str, path: Sequence[Stage]
) -> tuple[dict[str, list[PastRun]], dict[str, float]]:
    """Read the newest runs of each step in one question, oldest first, and what goes into one."""
    asked: list[Any] = []
    for step in path:
        asked += [MIXED, PRODUCT, RECIRCULATE, RETURNED, HEEL]
        asked += [actor.workshop_id, step.key, polymer, RUNS_KEPT]
    past: dict[str, list[PastRun]] = {step.key: [] for step in path}
    sorting = {step.key for step in path if step.sorts}
    found = rows(" UNION ALL ".join([_RUNS] * len(path)), asked)
    for key, _, _, machine, drawn, made, aside, source in sorted(found, key=_by_time):
        went_in = int(drawn or 0) - int(aside or 0)
        if went_in > 0:
            group = source if key in sorting else machine
            past[key].append(PastRun(went_in, int(made or 0), str(group or "")))
    return past, {key: _usual(runs) for key, runs in past.items()}


def _by_time(row: tuple[Any, ...]) -> tuple[str, int]:
    return str(row[1]), row[2]


def _usual(runs: Sequence[PastRun]) -> float:
    return sum(run.went_in for run in runs) / len(runs) if runs else float(USUAL_MG)


def _waiting(
    on_hand: Iterable[StockRow], path: Sequence[Stage], needs_drying: bool | None
) -> dict[str, float]:
    """Say what lies before each step and is not on hold, mg."""
    waits: dict[str, float] = defaultdict(float)
    for row in on_hand:
        step = stages.next_stage(row.form, needs_drying)
        if step is not None and step in path:
            waits[step.key] += max(row.mass_mg - row.held_mg, 0)
    return waits


def _bottles(actor: Actor, bring: Draws) -> About | None:
    """Count bottles by the newest sample that was weighed; None where there is none."""
    newest = max(samples(actor), key=lambda one: (one.taken_date, one.id), default=None)
    if newest is None or not 0 <= newest.u_mean_mg <= newest.mean_mg / 2:
        return None
    return _about(pieces(bring, Measured(newest.mean_mg, newest.u_mean_mg)))


def _about(draws: Draws) -> About:
    found = spread_of(draws)
    low, median, high = (
        None if one is None else round(one) for one in (found.low, found.median, found.high)
    )
    return About(low, median, high)


def _share(draws: Draws) -> tuple[float, float, float]:
    found = spread_of(draws)
    return found.low, found.median or 0.0, found.high or 0.0


def _step(step: Step, own: Draws, waits: dict[str, float]) -> PlanStep:
    learnt = step.learnt
    low, median, high = _share(own)
    return PlanStep(
        stage=step.key,
        runs=learnt.runs,
        failed=learnt.failed,
        chance_failed=chance_of_failure(learnt),
        low=low,
        median=median,
        high=high,
        waiting_mg=round(waits[step.key]),
    )
