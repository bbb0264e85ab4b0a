"""Energy that a lot carries: all that was spent on what went into it, losses included."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from graphlib import TopologicalSorter

from django.db import connection
from django.db.models import Q

from recycling.calc.energy.sharing import RunEnergy, carried_shares
from recycling.queries.energy.runs import runs_where, spent, with_cover
from recycling.records.actors import Actor
from recycling.records.energy.figures import LotEnergy, LotEnergyStep, RunEnergyRecord
from recycling.stages.declaration import WASTE
from shared.codes import read_code
from shared.errors import Unknown
from shared.measured import Measured
from shared.said import say

_UPSTREAM = """
WITH RECURSIVE up(run_id) AS (
  SELECT made_by_id FROM recycling_lot WHERE workshop_id = %s AND code = %s
  UNION
  SELECT l.made_by_id FROM up
  JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
  JOIN recycling_lot l ON l.account_id = d.lot_id
)
SELECT d.run_id, d.lot_id, d.mass_mg, '', '', '' FROM up
JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
UNION ALL
SELECT l.made_by_id, l.account_id, l.made_mg, l.role, l.code, l.form FROM up
JOIN recycling_lot l ON l.made_by_id = up.run_id
"""


@dataclass
class _Way:
    """Runs on the way of a lot: what each drew, what each made, mg, and which of it is waste."""

    drawn: dict[int, dict[int, int]] = field(default_factory=lambda: defaultdict(dict))
    made: dict[int, dict[int, int]] = field(default_factory=lambda: defaultdict(dict))
    waste: set[int] = field(default_factory=set)
    names: dict[str, tuple[int, str]] = field(default_factory=dict)

    def in_order(self) -> list[int]:
        """Put runs in an order in which each lot is made before it is drawn."""
        makers = {lot: run for run, lots in self.made.items() for lot in lots}
        graph = {run: sorted({makers[lot] for lot in self.drawn[run]}) for run in sorted(self.made)}
        return list(TopologicalSorter(graph).static_order())

    def masses(self) -> dict[int, int]:
        """Give each lot's mass as made, or what was drawn of it where a count found more."""
        taken: dict[int, int] = defaultdict(int)
        for lots in self.drawn.values():
            for lot, mass_mg in lots.items():
                taken[lot] += mass_mg
        return {
            lot: max(mass_mg, taken[lot])
            for lots in self.made.values()
            for lot, mass_mg in lots.items()
        }


def lot_energy(actor: Actor, code: str) -> LotEnergy:
    """Give the energy that a lot carries, computed from its whole way each time it is asked for.

    Raises
    ------
    Unknown
        When there is no such lot.
    """
    code = read_code(code) or code
    way = _way(actor, code)
    lot, form = way.names[code]
    found = runs_where(actor.workshop_id, Q(pk__in=list(way.made)), lot)
    energies, order = found.records, way.in_order()
    shares = dict(zip(order, carried_shares(_runs(way, order, energies), lot), strict=True))
    on_way = [pk for pk in order if pk in energies]
    carried = spent([energies[pk] for pk in on_way], [shares[pk] for pk in on_way])
    steps = tuple(
        LotEnergyStep(
            energies[pk].run,
            energies[pk].stage,
            energies[pk].method,
            energies[pk].kwh,
            energies[pk].u_kwh,
            shares[pk],
            energies[pk].covered,
        )
        for pk in on_way
    )
    made_mg = next(lots[lot] for lots in way.made.values() if lot in lots)
    made = found.lots.get(lot, Measured(made_mg))
    record = LotEnergy(
        lot=code,
        form=form,
        made_mg=made_mg,
        kwh=carried.value,
        steps=steps,
        unlogged=sum(1 for step in steps if not step.method),
        carries=lot not in way.waste,
        u_kwh=carried.u,
        u_made_mg=made.u,
    )
    return with_cover(record, carried, Measured.of(made_mg, made.parts))


def _way(actor: Actor, code: str) -> _Way:
    way = _Way()
    with connection.cursor() as cursor:
        cursor.execute(_UPSTREAM, [actor.workshop_id, code])
        for run, lot, mass_mg, role, name, form in cursor.fetchall():
            if not name:
                way.drawn[run][lot] = mass_mg
                continue
            way.made[run][lot] = mass_mg
            way.names[name] = (lot, form)
            if role == WASTE:
                way.waste.add(lot)
    if code not in way.names:
        raise Unknown.because(
            "lot-unknown", say("There is no lot “{code}” in this workshop.", code=code)
        )
    return way


def _runs(way: _Way, order: Iterable[int], energies: dict[int, RunEnergyRecord]) -> list[RunEnergy]:
    masses = way.masses()
    return [
        RunEnergy(
            energies[pk].kwh if pk in energies else 0.0,
            way.drawn[pk],
            {lot: masses[lot] for lot in way.made[pk] if lot not in way.waste},
            {lot: masses[lot] for lot in way.made[pk] if lot in way.waste},
        )
        for pk in order
    ]
