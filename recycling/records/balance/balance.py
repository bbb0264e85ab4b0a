"""What adds up: now, per stage, and over a period.

The months of a balance side by side.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from recycling.records.lots.stock import ProcessNow


@dataclass(frozen=True)
class LotNow:
    """A lot with something on hand.

    Attributes
    ----------
    code, form, polymer : str
        Its code and what it is.
    mass_mg : int
        What is on hand, in mg.
    """

    code: str
    form: str
    polymer: str
    mass_mg: int


@dataclass(frozen=True)
class BorderNow:
    """A border account.

    Attributes
    ----------
    account, polymer : str
        Its name, and what the mass is made of.
    mass_mg : int
        What crossed it in all, in mg; below zero for what was received.
    """

    account: str
    polymer: str
    mass_mg: int


@dataclass(frozen=True)
class BalanceNow:
    """Every account from one snapshot.

    Attributes
    ----------
    sequence : int
        The last entry it knows of.
    lots, in_process, borders : tuple
        Lots with something on hand, open runs, and border accounts.
    total_mg : int
        The sum of all of them in mg, which is zero.
    """

    sequence: int
    lots: tuple[LotNow, ...]
    in_process: tuple[ProcessNow, ...]
    borders: tuple[BorderNow, ...]
    total_mg: int


@dataclass(frozen=True)
class StageBalance:
    """What a stage did in a period, over its closed runs that ended in it.

    Attributes
    ----------
    stage, title : str
        Key and title of the stage.
    runs : int
        How many.
    inputs_mg : int
        Mass drawn, in mg.
    outputs_mg : dict of str to int
        Mass given by role, in mg.
    losses_mg : dict of str to int
        Mass lost or sent over the border by account, in mg.
    unaccounted_mg : int
        What closes them, in mg.
    stage_yield : float or None
        Product over inputs; None where nothing was drawn or the stage gives no product.
    """

    stage: str
    title: str
    runs: int
    inputs_mg: int
    outputs_mg: dict[str, int] = field(default_factory=dict)
    losses_mg: dict[str, int] = field(default_factory=dict)
    unaccounted_mg: int = 0
    stage_yield: float | None = None


@dataclass(frozen=True)
class Statement:
    """A period's statement; it closes to the milligram.

    opening + received + reclassified = dispatched + discarded + losses + unaccounted + closing
    + in process, where the opening holds stock and work in process alike.

    Attributes
    ----------
    polymer : str
        Which polymer; empty for all together.
    start, end : datetime
        The period: from `start` up to but not at `end`.
    opening_mg, received_mg, dispatched_mg, discarded_mg, unaccounted_mg : int
        In mg.
    reclassified_mg : int
        What became of this polymer in a run of another one, as caps that came in with
        bottles; over all polymers it adds up to zero.
    losses_mg : dict of str to int
        Measured losses by account, in mg.
    closing_mg, in_process_mg : int
        Stock, and mass inside open runs, at the end, in mg.
    """

    polymer: str
    start: datetime
    end: datetime
    opening_mg: int
    received_mg: int
    reclassified_mg: int
    dispatched_mg: int
    discarded_mg: int
    losses_mg: dict[str, int]
    unaccounted_mg: int
    closing_mg: int
    in_process_mg: int

    @property
    def difference_mg(self) -> int:
        """What does not close, in mg: zero in a sound book."""
        left = self.opening_mg + self.received_mg + self.reclassified_mg
        out = self.dispatched_mg + self.discarded_mg + sum(self.losses_mg.values())
        return left - out - self.unaccounted_mg - self.closing_mg - self.in_process_mg


@dataclass(frozen=True)
class Flow:
    """Mass that moved in a period, for a drawing.

    Attributes
    ----------
    source, target : str
        Names of where from and where to: a stage's title, "stock of …" or an account.
    mass_mg : int
        Mass in mg.
    role : str
        "product", "side", "recirculate", "waste", "heel" or "loss".
    """

    source: str
    target: str
    mass_mg: int
    role: str


@dataclass(frozen=True)
class MonthBalance:
    """What happened in a month, in the workshop's zone.

    Attributes
    ----------
    month : str
        Year and month, as in 2024-05.
    collected_mg : int
        Collected, in mg; what was bought or counted in is not in it.
    filament_mg, side_mg, waste_mg : int
        Good filament, side streams and waste that the month's runs gave, in mg.
    lost_mg, unaccounted_mg : int
        Measured losses, and what closes runs and counts, in mg; below zero for a gain.
    dispatched_mg, discarded_mg : int
        What left over the border, in mg.
    """

    month: str
    collected_mg: int = 0
    filament_mg: int = 0
    side_mg: int = 0
    waste_mg: int = 0
    lost_mg: int = 0
    unaccounted_mg: int = 0
    dispatched_mg: int = 0
    discarded_mg: int = 0
