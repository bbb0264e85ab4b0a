"""What is counted in a report, how sure it is, and what is known of each typed figure."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

from recycling.calc.balance.known_masses import Sureness
from recycling.ledger.models import LOT
from recycling.ledger.sql import marks
from recycling.models import Weighing
from recycling.queries.balance.instruments import Instruments
from recycling.queries.balance.typed_masses import TypedMass, typed_masses
from recycling.reports.movements import Movements
from recycling.stages import STAGES
from shared.measured import Measured, Parts, Source, total

COUNTING = [one.key for one in STAGES if one.counts]
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

    instruments: Instruments
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
    return Sure(instruments, read, by_pair, unweighed)


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


def unweighed(known: list[Surely]) -> bool:
    """Whether none of these figures of a lot that was not weighed is a weighing of its own."""
    return all(one.by_book or one.how in NOT_WEIGHED for one in known)
