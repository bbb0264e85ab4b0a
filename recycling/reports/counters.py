"""The five counters of a report, by polymer, with how sure they are and estimated masses apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from recycling.calc.reports.diversion import Counter
from recycling.models import Origin, RunCheck
from recycling.queries.balance.moisture import moistures_after
from recycling.reports.counted import Counted, Sure, unweighed
from recycling.reports.fates import Followed
from recycling.reports.heels import heels_of
from recycling.reports.melted import MELTS, Fresh, fresh_of
from recycling.reports.movements import LotRow, Movement, Movements, RunRow
from recycling.reports.product import product_counts
from recycling.stages import BORDER_OF, STAGES
from recycling.stages.declaration import DISPATCHED, HEEL, PRODUCT, RECEIVED, RETURNED, SIDE
from shared.measured import Measured

SORTS = frozenset(one.key for one in STAGES if one.sorts)
WORKS = frozenset(one.key for one in STAGES if one.works)


@dataclass(frozen=True)
class Counts:
    """Counters by polymer and by month (place of the cut it follows), and all together."""

    by_polymer: dict[tuple[Counter, str], Counted]
    by_month: dict[tuple[Counter, int], Counted]

    def total(self, counter: Counter) -> Counted:
        """Add up a counter over all polymers."""
        whole = Counted()
        for (one, _), counted in self.by_polymer.items():
            if one is counter:
                whole.add(counted)
        return whole


def counts_of(found: Movements, sure: Sure, told: Followed) -> Counts:
    """Count the period's masses at the five places, in whole and by month."""
    by_polymer: dict[tuple[Counter, str], Counted] = defaultdict(Counted)
    by_month: dict[tuple[Counter, int], Counted] = defaultdict(Counted)
    checks = RunCheck.objects.filter(run__workshop_id=found.scope.actor.workshop_id)
    fresh, moistures = fresh_of(found), moistures_after(checks)
    heels = heels_of(found, sure.parts_of)
    for counter, moved in counted(found):
        lot = found.lots[moved.lot_id]
        if counter is Counter.MELT:
            water = moistures.get(lot.maker)
            masses_mg = _melting(moved, fresh, water)
            if lot.maker == moved.run_id:
                masses_mg = -masses_mg[0], -masses_mg[1]
            one = counted_one(found, moved, sure, masses_mg)
            if water is not None:
                one.dried_by(water)
            one.unknown_moisture_mg = one.mass_mg if water is None else 0
            if not one.mass_mg + one.other_mg:
                continue
        else:
            one = counted_one(found, moved, sure)
            if counter is Counter.DISPATCHED:
                one.shared_by(heels.get(moved.lot_id, {}), abs(moved.whole_mg))
        by_polymer[counter, lot.polymer].add(one)
        by_month[counter, moved.cut].add(one)
    products, of_months = product_counts(found, told, sure, heels)
    for polymer, one in products.items():
        by_polymer[Counter.PRODUCT, polymer].add(one)
    for (_polymer, cut), one in of_months.items():
        by_month[Counter.PRODUCT, cut].add(one)
    return Counts(by_polymer, by_month)


def counted(found: Movements) -> Iterator[tuple[Counter, Movement]]:
    """Say of each movement at which places it is counted."""
    for moved in found.inside:
        if moved.lot_id:
            lot, run = found.lots[moved.lot_id], found.runs[moved.run_id]
            for counter in _places(found, moved, lot, run):
                yield counter, moved


def _places(found: Movements, moved: Movement, lot: LotRow, run: RunRow) -> Iterable[Counter]:
    if lot.maker == moved.run_id:
        if BORDER_OF[run.stage] == RECEIVED and run.origin_kind == Origin.COLLECTION:
            yield Counter.COLLECTED
        elif run.stage in SORTS and lot.role in (PRODUCT, SIDE):
            yield Counter.ACCEPTED
        elif run.stage in MELTS and lot.role == RETURNED:
            yield Counter.MELT
        return
    maker = found.runs[lot.maker]
    as_received = BORDER_OF[maker.stage] == RECEIVED
    collected = as_received and maker.origin_kind == Origin.COLLECTION
    if collected and run.stage in WORKS and run.stage not in SORTS and lot.form != HEEL:
        yield Counter.ACCEPTED
    if run.stage in MELTS:
        yield Counter.MELT
    if BORDER_OF[run.stage] == DISPATCHED and lot.role == PRODUCT and not as_received:
        yield Counter.DISPATCHED


def counted_one(
    found: Movements, moved: Movement, sure: Sure, masses_mg: tuple[int, int] | None = None
) -> Counted:
    """Count one movement, scaled to the part that comes from the collections followed.

    `masses_mg` are what to count of the whole and of that part; without them it is all.
    """
    whole_mg, part_mg = masses_mg or (abs(moved.whole_mg), abs(moved.collected_mg))
    one = Counted(other_mg=whole_mg - part_mg if found.scope.is_whole else 0)
    known = sure.by_pair.get((moved.run_id, moved.lot_id), [])
    all_mg = sum(figure.mass_mg for figure in known)
    if moved.lot_id in sure.not_weighed and unweighed(known):
        one.estimated_mg = part_mg
    else:
        one.weighed_mg = part_mg
    scale = part_mg / all_mg if all_mg else 0.0
    of_other = one.other_mg / all_mg if all_mg else 0.0
    for figure in known:
        for source, part in figure.sureness.parts.items():
            one.parts[source] += scale * part
            if of_other:
                one.other_parts[source] += of_other * part
    return one


def _melting(moved: Movement, fresh: Fresh, water: Measured | None) -> tuple[int, int]:
    """Say what of a draw is melted for the first time, whole and part, mg; dry where known."""
    dry = 1.0 if water is None else 1 - water.value
    before_mg = round(abs(moved.moved_mg) * dry)
    after_mg = round(abs(moved.moved_mg + moved.whole_mg) * dry)
    whole_mg = fresh.whole(moved.lot_id, after_mg) - fresh.whole(moved.lot_id, before_mg)
    part_mg = fresh.part(moved.lot_id, after_mg) - fresh.part(moved.lot_id, before_mg)
    return whole_mg, part_mg
