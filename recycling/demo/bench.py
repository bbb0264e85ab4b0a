"""The bench of the invented workshop: its people, its shelf, its scales, and today's date."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from recycling.demo.cast import STEP_MG
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import DrawEntry, WeighingEntry
from recycling.records.lots.origin_entries import OriginEntry
from recycling.records.recorded import LotMade, OriginRecorded, RunRecorded
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.run_record import run_record

KG = 1_000_000


@dataclass(frozen=True)
class Item:
    """A lot on the shelf: its code, what it is, mass in mg, and whose bottles are in it."""

    code: str
    form: str
    polymer: str
    mass_mg: int
    origins: frozenset[str]
    made_at: datetime


@dataclass
class Bench:
    """What the people of the demo know while they work; the book itself is in the services."""

    lead: Actor
    operator: Actor
    viewer: Actor
    rng: Random
    today: date
    shelf: dict[str, Item] = field(default_factory=dict)
    set_aside: set[str] = field(default_factory=set)
    spools: list[str] = field(default_factory=list)
    worked: list[tuple[RunEntry, RunRecorded]] = field(default_factory=list)

    def at(self, hour: float) -> datetime:
        """Say a local time of today, a few minutes off."""
        clock = datetime.combine(self.today, time(0), ZoneInfo(self.lead.zone))
        return clock + timedelta(minutes=round(hour * 60) + self.rng.randrange(14))

    def about(self, value: float, spread: float) -> float:
        """Say a value that scatters by a relative standard deviation."""
        return value * self.rng.gauss(1, spread)

    def read_mg(self, mass_mg: float, scale: str) -> int:
        """Read a mass off a scale's display, in mg."""
        step = STEP_MG[scale]
        return max(step, round(mass_mg / step) * step)

    def weighed(self, net_mg: int, scale: str, tare_mg: int = 0) -> WeighingEntry:
        """Say how a net mass was read."""
        if not tare_mg:
            return WeighingEntry(scale=scale)
        return WeighingEntry(gross_mg=net_mg + tare_mg, tare_mg=tare_mg, scale=scale)

    def of(self, *forms: str, polymer: str = "PET") -> list[Item]:
        """List what is on the shelf of these forms and not set aside, oldest first."""
        return [
            item
            for item in self.shelf.values()
            if item.form in forms
            and item.polymer == polymer
            and item.mass_mg
            and not item.origins & self.set_aside
        ]

    def ready(self, hour: float, *forms: str) -> list[Item]:
        """List what of these forms was made before an hour of today."""
        now = self.at(hour)
        return [item for item in self.of(*forms) if item.made_at < now]

    def receive(self, entry: OriginEntry, actor: Actor | None = None) -> OriginRecorded:
        """Record what came in and put it on the shelf."""
        came = origin_record(actor or self.operator, entry)
        self._shelve(came.lots, frozenset({came.code}), entry.happened_at)
        return came

    def work(self, entry: RunEntry, actor: Actor | None = None) -> RunRecorded:
        """Record a run and keep the shelf in step."""
        assert entry.ended_at is not None
        done = run_record(actor or self.operator, entry)
        whose = self.taken(entry.inputs)
        self._shelve(done.lots, whose, entry.ended_at)
        self.worked.append((entry, done))
        return done

    def taken(self, draws: Iterable[DrawEntry]) -> frozenset[str]:
        """Take draws off the shelf and say whose bottles were in them."""
        whose: frozenset[str] = frozenset()
        for draw in draws:
            item = self.shelf[draw.lot]
            left = 0 if draw.mass_mg is None else item.mass_mg - draw.mass_mg
            self.shelf[draw.lot] = replace(item, mass_mg=left)
            whose |= item.origins
        return whose

    def _shelve(self, lots: Iterable[LotMade], whose: frozenset[str], at: datetime) -> None:
        for lot in lots:
            self.shelf[lot.code] = Item(lot.code, lot.form, lot.polymer, lot.mass_mg, whose, at)
            if lot.code.startswith("S"):
                self.spools.append(lot.code)

    def whole(self, items: Iterable[Item]) -> tuple[DrawEntry, ...]:
        """Draw all that is left of items."""
        return tuple(DrawEntry(item.code, all=True) for item in items)

    def some(self, items: list[Item], wanted_mg: float, scale: str) -> tuple[DrawEntry, ...]:
        """Draw a wanted mass from items in order; a last rest under 150 g goes along."""
        draws, left = [], wanted_mg
        for item in items:
            if left <= 0:
                break
            if item.mass_mg <= left + 150_000:
                draws.append(DrawEntry(item.code, all=True))
                left -= item.mass_mg
            else:
                mass_mg = self.read_mg(left, scale)
                draws.append(DrawEntry(item.code, mass_mg, weighing=WeighingEntry(scale=scale)))
                left = 0
        return tuple(draws)

    def drawn_mg(self, draws: Iterable[DrawEntry]) -> int:
        """Add up draws, in mg."""
        return sum(
            self.shelf[draw.lot].mass_mg if draw.mass_mg is None else draw.mass_mg for draw in draws
        )
