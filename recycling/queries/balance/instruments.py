"""Scales, samples, tares and assumptions of a workshop: what says how sure a mass is."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from recycling.calc.balance.known_masses import (
    Assumed,
    Known,
    Scale,
    Sureness,
    sample_mean,
    sureness,
)
from recycling.calc.balance.usual_loss import Bounds
from recycling.ledger.models import LOT
from recycling.ledger.sql import rows
from recycling.models import BottleSample, Weighing
from recycling.queries.setup.practice import assumed_by, bounds_by, practice_over
from recycling.records.setup.practice import PracticeRow
from recycling.stages import COUNTING, first_of
from recycling.stages.declaration import HEEL
from shared.measured import Measured

if TYPE_CHECKING:
    from recycling.queries.setup.parameters import Entered

ENTERED = ("role", "count", "how", "tare_mg", "scale_id", "sample_id", "u_mg")
"""What was entered of a mass, beside it."""

_READ = """
SELECT 'scale', id, name, accuracy_class, interval_mg, capacity_mg, 0.0, ''
  FROM recycling_scale WHERE workshop_id = %s
UNION ALL
SELECT 'practice', id, key, '', 0, 0, value, source FROM recycling_practice WHERE workshop_id = %s
UNION ALL
SELECT 'container', id, name, '', 0, tare_mg, 0.0, ''
  FROM recycling_container WHERE workshop_id = %s AND tare_mg > 0
ORDER BY 2
"""


def place_of(stage: str, into_run: bool) -> str:
    """Say where something is weighed, for scales that were not named."""
    return f"{stage}, {'in' if into_run else 'out'}"


class Instruments:
    """What a workshop weighs with and assumes, each read once, when it is first needed."""

    def __init__(self, workshop_id: int) -> None:
        self.workshop_id = workshop_id

    @classmethod
    def of(cls, workshop_id: int, by: Entered) -> Instruments:
        """Take scales, tares and assumptions that were read already."""
        instruments = cls(workshop_id)
        instruments.scales, instruments.practice = by.scales, by.practice
        instruments.tares = by.tares
        return instruments

    @cached_property
    def _read(self) -> list[tuple[Any, ...]]:
        return rows(_READ, [self.workshop_id] * 3)

    @cached_property
    def scales(self) -> dict[int, Scale]:
        """The scales by key."""
        return {row[1]: Scale(*row[2:6]) for row in self._read if row[0] == "scale"}

    @cached_property
    def practice(self) -> dict[str, PracticeRow]:
        """How the workshop works."""
        entered = [row for row in self._read if row[0] == "practice"]
        return practice_over((row[2], row[6], row[7]) for row in entered)

    @cached_property
    def tares(self) -> dict[str, int]:
        """The tares of known containers in mg, by name."""
        return dict(sorted((row[2], row[5]) for row in self._read if row[0] == "container"))

    @cached_property
    def assumed(self) -> Assumed:
        """What is assumed where nothing better is known."""
        return assumed_by(self.practice)

    @cached_property
    def bounds(self) -> Bounds:
        """Where the states of a run's closure end."""
        return bounds_by(self.practice)

    @cached_property
    def samples(self) -> dict[int, BottleSample]:
        """The samples by key, read when a mass was first counted by one."""
        found = BottleSample.objects.filter(workshop_id=self.workshop_id)
        return {one.pk: one for one in found}

    @cached_property
    def usual(self) -> tuple[Scale, ...]:
        """Those from which one is assumed where none was named."""
        return tuple(self.scales.values())

    def sureness(self, known: Known) -> Sureness:
        """Judge how sure a mass is, by the workshop's scales, samples and assumptions."""
        return sureness(known, self.usual, self.assumed)

    def mean_of(self, known: Known) -> Measured:
        """Give the mean mass of a sample's bottles, mg."""
        return sample_mean(known, self.usual, self.assumed)

    def assumption(self, basis: str, how: str) -> str:
        """Say what is assumed, with value, unit and source; empty where nothing is."""
        key = {"no scale": "no_scale_step_g", "assumed share": f"{how}_u_percent"}.get(basis)
        if key is None:
            return ""
        row = self.practice[key]
        return f"{row.value:g} {row.unit}, {row.source}"

    def known(self, row: dict[str, Any], mass_mg: int) -> Known:
        """Put together what was entered of a mass."""
        into_run = row.get("kind") == LOT and row["mass_mg"] < 0
        place = place_of(row.get("run_stage") or first_of(COUNTING).key, into_run)
        said = (row[name] for name in ENTERED)
        return self.known_of((row["pk"], row.get("actor"), place), mass_mg, *said)

    def known_of(
        self,
        whose: tuple[int, Any, str],
        mass_mg: int,
        role: str | None,
        count: int | None,
        how: str | None,
        tare_mg: int | None,
        scale_id: int | None,
        sample_id: int | None,
        u_mg: int | None,
    ) -> Known:
        """Put together what was entered of a mass, from the columns of ``ENTERED``.

        `whose` are the figure's number, who entered it, and where it was weighed.
        """
        sample = self.samples.get(sample_id) if sample_id else None
        scale_id = scale_id or (sample.scale_id if sample else None)
        how = how or (Weighing.ESTIMATED if role == HEEL else Weighing.WEIGHED)
        return Known(
            abs(mass_mg),
            Weighing.WEIGHED if how == Weighing.BY_BOOK else how,
            tare_mg or 0,
            self.scales.get(scale_id) if scale_id else None,
            count,
            tuple(sample.masses_mg) if sample else (),
            u_mg,
            sample.name if sample else "",
            whose[0],
            int(str(whose[1]).replace("-", ""), 16) if whose[1] else 0,
            role == HEEL,
            whose[2],
        )
