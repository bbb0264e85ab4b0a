"""What an uncertain heel does to what filament holds: its mass is mostly an estimate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping

from recycling.calc.lots.recomposition import RunMasses, recompose
from recycling.queries.runs.feed_order import feed_logs
from recycling.reports.movements import Movement, Movements
from recycling.stages.declaration import HEEL
from shared.measured import Parts, Source

STEP = 0.01
"""Part of a heel's mass by which it is changed either way to see what that does."""

PartsOf = Callable[[int, int], Parts]
"""Says of a run and a lot what makes the mass uncertain that the run drew of it, mg."""

Heels = dict[int, dict[Source, float]]
"""By lot: the contributions to its share from collections, as parts of one."""


def heels_of(found: Movements, parts_of: PartsOf) -> Heels:
    """Say of each lot made over a heel how sure its share from collections is because of that.

    Each heel is made a hundredth heavier and lighter, and the run composed again by its own model:
    well mixed, or in feed order, where a heavier heel is also a longer wash. What both together
    change is the sensitivity to the heel's mass (GUM 5.1.3, note 2).
    """
    runs: dict[int, list[Movement]] = defaultdict(list)
    for moved in found.inside:
        if moved.lot_id:
            runs[moved.run_id].append(moved)
    over = {run: moves for run, moves in runs.items() if any(_heels(found, moves))}
    logs = feed_logs(found.scope.actor.workshop_id, over) if over else {}
    by_lot: Heels = defaultdict(dict)
    for run, moves in over.items():
        drawn, given = _drawn(found, moves), _given(found, moves)
        for heel in _heels(found, moves):
            parts = parts_of(run, heel)
            mass_mg = drawn[heel]
            changes = _changes(found, RunMasses((), given, logs.get(run)), drawn, heel)
            for lot, change in changes.items():
                for source, part in parts.items():
                    held = by_lot[lot]
                    held[source] = held.get(source, 0.0) + change * part / mass_mg
    return by_lot


def _heels(found: Movements, moves: list[Movement]) -> list[int]:
    return [
        one.lot_id
        for one in moves
        if one.whole_mg < 0
        and found.lots[one.lot_id].form == HEEL
        and found.lots[one.lot_id].maker != one.run_id
    ]


def _drawn(found: Movements, moves: list[Movement]) -> dict[int, int]:
    made_here = {one.lot_id for one in moves if found.lots[one.lot_id].maker == one.run_id}
    drawn: dict[int, int] = defaultdict(int)
    for one in moves:
        if one.lot_id not in made_here:
            drawn[one.lot_id] -= one.whole_mg
    return {lot: mass_mg for lot, mass_mg in drawn.items() if mass_mg > 0}


def _given(found: Movements, moves: list[Movement]) -> tuple[tuple[int, int, None], ...]:
    made: dict[int, int] = defaultdict(int)
    for one in moves:
        if found.lots[one.lot_id].maker == one.run_id:
            made[one.lot_id] += one.whole_mg
    return tuple((lot, mass_mg, None) for lot, mass_mg in made.items() if mass_mg > 0)


def _changes(
    found: Movements, run: RunMasses, drawn: Mapping[int, int], heel: int
) -> dict[int, float]:
    """Give ∂share/∂(ln of the heel's mass) of each lot that the run gave."""
    known = {}
    for lot, mass_mg in drawn.items():
        own_mg = found.share(lot).of(mass_mg)
        held = {"collected": own_mg, "other": mass_mg - own_mg}
        known[lot] = {origin: part for origin, part in held.items() if part}
    shares = []
    for sign in (1, -1):
        changed = {**drawn, heel: round(drawn[heel] * (1 + sign * STEP))}
        masses = RunMasses(tuple(changed.items()), run.outputs, run.log)
        made = recompose({0: masses}, dict(known), 0)
        shares.append(
            {lot: parts.get("collected", 0) / sum(parts.values()) for lot, parts in made.items()}
        )
    more, less = shares
    return {lot: (more[lot] - less[lot]) / (2 * STEP) for lot in more}
