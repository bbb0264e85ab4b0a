"""The five counters of a report, by polymer, with how sure they are and estimated masses apart."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from recycling.calc.balance.closure import Bounds
from recycling.calc.balance.known_masses import Sureness
from recycling.calc.reports.diversion import Counter
from recycling.ledger.models import LOT
from recycling.ledger.sql import marks
from recycling.models import Origin, RunCheck, Weighing
from recycling.queries.balance.instruments import Instruments
from recycling.queries.balance.moisture import moistures_after
from recycling.queries.balance.typed_masses import TypedMass, typed_masses
from recycling.reports.heels import heels_of
from recycling.reports.melted import MELTS, Fresh, fresh_of, new_product_of
from recycling.reports.movements import LotRow, Movement, Movements, RunRow
from recycling.stages import BORDER_OF, STAGES
from recycling.stages.declaration import DISPATCHED, HEEL, PRODUCT, RECEIVED, RETURNED, SIDE
from shared.measured import Measured, Parts, Source, total

SORTS = frozenset(one.key for one in STAGES if one.sorts)
COUNTING = [one.key for one in STAGES if one.counts]
WORKS = frozenset(one.key for one in STAGES if one.works)
NOT_WEIGHED = (Weighing.ESTIMATED, Weighing.COUNTED)
TYPED = f"""
    r.stage NOT IN ({marks(COUNTING)})
    AND (e.happened_at >= %s AND e.happened_at < %s OR r.ended_at >= %s AND r.ended_at < %s)"""
"""Which typed figures are the period's: those of runs that ended in it too."""

Pair = tuple[int, int]
"""A run and a lot."""


@dataclass
class Counted:
    """One counter of one polymer, mg.

    ``weighed_mg`` and ``estimated_mg`` come from collections; ``other_mg`` is what was bought or
    there before the book, at the same place. ``unknown_moisture_mg`` is counted as weighed.
    """

    weighed_mg: int = 0
    estimated_mg: int = 0
    other_mg: int = 0
    unknown_moisture_mg: int = 0
    parts: dict[Source, float] = field(default_factory=lambda: defaultdict(float))
    other_parts: dict[Source, float] = field(default_factory=lambda: defaultdict(float))

    @property
    def mass_mg(self) -> int:
        """Weighed and estimated together, mg."""
        return self.weighed_mg + self.estimated_mg

    @property
    def u_mg(self) -> float:
        """Standard uncertainty of that, mg; what several weighings share counts as shared."""
        return math.hypot(*self.parts.values())

    @property
    def measured(self) -> Measured:
        """Weighed and estimated together with that, mg; never below nothing."""
        return Measured.of(float(max(self.mass_mg, 0)), self.parts)

    @property
    def how(self) -> str:
        """How it became known: ``weighed``, or ``mixed`` where a part was counted or estimated."""
        return "mixed" if self.estimated_mg else "weighed"

    def dried_by(self, water: Measured) -> None:
        """Take in that its moisture, with which it was counted as dry, is not known exactly."""
        for source, part in water.parts.items():
            self.parts[source] -= part * self.mass_mg / (1 - water.value)
            self.other_parts[source] -= part * self.other_mg / (1 - water.value)

    def shared_by(self, heel: Parts, whole_mg: int) -> None:
        """Take in how sure the share from collections is, by what a heel adds to one, of a mass."""
        for source, part in heel.items():
            self.parts[source] += part * whole_mg
            self.other_parts[source] -= part * whole_mg

    @property
    def other(self) -> Measured:
        """What is not from collections, with what makes it uncertain, mg."""
        return Measured.of(float(max(self.other_mg, 0)), self.other_parts)

    def add(self, other: Counted) -> None:
        """Add another counter to it."""
        self.weighed_mg += other.weighed_mg
        self.estimated_mg += other.estimated_mg
        self.other_mg += other.other_mg
        self.unknown_moisture_mg += other.unknown_moisture_mg
        for source, part in other.parts.items():
            self.parts[source] += part
        for source, part in other.other_parts.items():
            self.other_parts[source] += part


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


class Surely(NamedTuple):
    """What is kept of a typed figure: how it became known, and how sure it is; mg."""

    run_id: int
    sign: int
    mass_mg: int
    how: str
    basis: str
    by_book: bool
    scale: str
    sureness: Sureness

    @property
    def measured(self) -> Measured:
        """The mass with what makes it uncertain, mg."""
        return self.sureness.of(self.mass_mg)


@dataclass(frozen=True)
class Sure:
    """How sure the masses are: figures by run and lot, and lots that were never weighed."""

    bounds: Bounds
    figures: list[Surely]
    by_pair: dict[Pair, list[Surely]]
    not_weighed: frozenset[int]

    def parts_of(self, run_id: int, lot_id: int) -> Parts:
        """Say what makes the mass uncertain that a run moved of a lot, mg."""
        return total(one.measured for one in self.by_pair.get((run_id, lot_id), ())).parts


def sure_of(found: Movements) -> Sure:
    """Read every typed figure of the period once, and which lots were counted or estimated."""
    scope = found.scope
    instruments = Instruments(scope.actor.workshop_id)
    values = [*COUNTING, *(scope.start, scope.end) * 2]
    read: list[Surely] = []
    by_pair: dict[Pair, list[Surely]] = defaultdict(list)
    for one in typed_masses(instruments, TYPED, values):
        kept = _kept(one)
        read.append(kept)
        if one.lot_id:
            by_pair[one.run_id, one.lot_id].append(kept)
    not_weighed = Weighing.objects.filter(
        how__in=NOT_WEIGHED,
        posting__mass_mg__gt=0,
        posting__account__kind=LOT,
        posting__account__book_id=scope.actor.workshop_id,
    )
    unweighed = frozenset(not_weighed.values_list("posting__account_id", flat=True))
    return Sure(instruments.bounds, read, by_pair, unweighed)


def _kept(one: TypedMass) -> Surely:
    known, sure = one.known, one.sureness
    scale = known.scale.name if known.scale else ""
    return Surely(
        one.run_id,
        one.sign,
        one.mass_mg,
        known.how,
        sure.basis,
        one.by_book,
        scale,
        sure,
    )


def counts_of(found: Movements, sure: Sure) -> Counts:
    """Count the period's masses at the five places, in whole and by month."""
    by_polymer: dict[tuple[Counter, str], Counted] = defaultdict(Counted)
    by_month: dict[tuple[Counter, int], Counted] = defaultdict(Counted)
    checks = RunCheck.objects.filter(run__workshop_id=found.scope.actor.workshop_id)
    fresh, moistures, new = fresh_of(found), moistures_after(checks), new_product_of(found)
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
        elif counter is Counter.PRODUCT and moved.run_id in new:
            part = new[moved.run_id]
            masses_mg = round(part * abs(moved.whole_mg)), round(part * abs(moved.collected_mg))
            one = counted_one(found, moved, sure, masses_mg)
            one.shared_by(heels.get(moved.lot_id, {}), masses_mg[0])
        else:
            one = counted_one(found, moved, sure)
            if counter in (Counter.PRODUCT, Counter.DISPATCHED):
                one.shared_by(heels.get(moved.lot_id, {}), abs(moved.whole_mg))
        by_polymer[counter, lot.polymer].add(one)
        by_month[counter, moved.cut].add(one)
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
        elif run.stage in MELTS and lot.role == PRODUCT:
            yield Counter.PRODUCT
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
    if moved.lot_id in sure.not_weighed and _unweighed(known):
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


def _unweighed(known: list[Surely]) -> bool:
    """Whether none of these figures of a lot that was not weighed is a weighing of its own."""
    return all(one.by_book or one.how in NOT_WEIGHED for one in known)


def _melting(moved: Movement, fresh: Fresh, water: Measured | None) -> tuple[int, int]:
    """Say what of a draw is melted for the first time, whole and part, mg; dry where known."""
    dry = 1.0 if water is None else 1 - water.value
    before_mg = round(abs(moved.moved_mg) * dry)
    after_mg = round(abs(moved.moved_mg + moved.whole_mg) * dry)
    whole_mg = fresh.whole(moved.lot_id, after_mg) - fresh.whole(moved.lot_id, before_mg)
    part_mg = fresh.part(moved.lot_id, after_mg) - fresh.part(moved.lot_id, before_mg)
    return whole_mg, part_mg
