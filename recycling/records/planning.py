"""What the day's page and the bench must know: dried lots that wait, waits, checks due.

Stock, and the day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from recycling.records.lots.lots import HoldRow, LotRow
from recycling.records.lots.stock import Stock

DRIED = "dried flake"


@dataclass(frozen=True)
class DriedLot:
    """A dried lot on hand: since when, and how long it has been open to the air.

    Attributes
    ----------
    lot, form, polymer : str
        Its code, form and polymer.
    mass_mg : int
        Mass on hand, mg.
    dried_at : datetime
        When its drying ended.
    sealed : bool
        Whether it is noted as sealed now.
    open_h, limit_h : float
        Hours that it was open since, and how many it may be.
    asked_at : datetime
        When this was asked.
    """

    lot: str
    form: str
    polymer: str
    mass_mg: int
    dried_at: datetime
    sealed: bool
    open_h: float
    limit_h: float
    asked_at: datetime

    @property
    def over(self) -> bool:
        """Whether it was open for longer than its limit: it is dried again."""
        return self.open_h > self.limit_h

    @property
    def use_by(self) -> datetime | None:
        """Until when it may be fed if it stays open; None for one that is sealed."""
        if self.sealed:
            return None
        return self.asked_at + timedelta(hours=self.limit_h - self.open_h)


@dataclass(frozen=True)
class RunDue:
    """What an open run waits for.

    Attributes
    ----------
    run : str
        Its code.
    wait_until : datetime or None
        End of the wait after the last change of a setting; None where nothing was changed.
    label : str
        What was changed.
    checks : tuple of str
        Labels of checks without which it cannot be closed, and that were not noted yet.
    ready_at : datetime or None
        When a drying is done if its heat stays as it is; None where nobody can say.
    """

    run: str
    wait_until: datetime | None
    label: str
    checks: tuple[str, ...]
    ready_at: datetime | None = None


@dataclass(frozen=True)
class OpenRunRow:
    """A run that goes on, as the day's page shows it.

    Attributes
    ----------
    code, stage, machine, polymer : str
        Its code, stage, machine and polymer.
    started_at : datetime
        When it began.
    in_process_mg : int
        What is inside, mg.
    due : RunDue or None
        What it waits for.
    """

    code: str
    stage: str
    machine: str
    polymer: str
    started_at: datetime
    in_process_mg: int
    due: RunDue | None


@dataclass(frozen=True)
class Today:
    """What someone who comes in wants to see.

    Attributes
    ----------
    open_runs : tuple of OpenRunRow
        Runs that go on, the first that began first.
    holds : tuple of HoldRow
        Holds in force.
    heels : tuple of LotRow
        What is in the machines.
    dried : tuple of DriedLot
        Dried lots on hand, those that lie open first.
    stock : Stock
        What is in the workshop.
    is_new : bool
        Whether nothing was ever recorded.
    verdicts_waiting : int
        Verdicts without an account that nobody here has looked at.
    """

    open_runs: tuple[OpenRunRow, ...]
    holds: tuple[HoldRow, ...]
    heels: tuple[LotRow, ...]
    dried: tuple[DriedLot, ...]
    stock: Stock
    is_new: bool
    verdicts_waiting: int


@dataclass(frozen=True)
class About:
    """A figure that is drawn: its middle, and between which ends it is in nine of ten draws.

    Attributes
    ----------
    low, median, high : int or None
        In mg, or pieces. None where no amount would do; `high` is enough in 19 of 20.
    """

    low: int | None
    median: int | None
    high: int | None


@dataclass(frozen=True)
class PlanStep:
    """A step of the way from bottle to spool, as the next runs will yield.

    Attributes
    ----------
    stage : str
        Its key.
    runs, failed : int
        Runs here that this rests on, and how many of them failed; none: it is assumed.
    chance_failed : float
        Chance that the next run fails, a share.
    low, median, high : float
        Yield of what is ahead: the ends between which it is in nine of ten draws, the middle.
    waiting_mg : int
        What waits for it and is not on hold, mg.
    """

    stage: str
    runs: int
    failed: int
    chance_failed: float
    low: float
    median: float
    high: float
    waiting_mg: int


@dataclass(frozen=True)
class Plan:
    """What some spools take, and how many what is there will make.

    Attributes
    ----------
    polymer : str
        What they are of.
    spools, spool_mg : int
        How many, and what is on each, mg.
    bring : About
        Bottles to collect for all of them, mg.
    bottles : About or None
        The same in pieces, by the newest sample weighed; None without one.
    more : About
        Bottles to collect beyond what is there, mg.
    ready_mg, ready_spools : int
        What waits for the last step, mg, and the full spools that it makes in 19 of 20.
    there_mg, there_spools : int
        The same of all that waits on the way.
    chain : tuple of float
        Yield of all steps: low, median, high.
    steps : tuple of PlanStep
        In the order in which material meets them.
    assumed : bool
        Whether some step has no run yet, and its first setting speaks.
    """

    polymer: str
    spools: int
    spool_mg: int
    bring: About
    bottles: About | None
    more: About
    ready_mg: int
    ready_spools: int
    there_mg: int
    there_spools: int
    chain: tuple[float, float, float]
    steps: tuple[PlanStep, ...]
    assumed: bool
