"""Stock, and the day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance import ProcessNow
from recycling.records.bench import DriedLot, RunDue
from recycling.records.lots import HoldRow, LotRow


@dataclass(frozen=True)
class StockRow:
    """Stock of one form and polymer.

    Attributes
    ----------
    form, polymer : str
        What it is.
    lots : int
        Lots with something on hand.
    mass_mg, held_mg : int
        What is on hand, and what of it is on hold, in mg.
    """

    form: str
    polymer: str
    lots: int
    mass_mg: int
    held_mg: int


@dataclass(frozen=True)
class Stock:
    """What is in the workshop.

    Attributes
    ----------
    rows : tuple of StockRow
        By form, in the order material meets them, and polymer.
    in_process : tuple of ProcessNow
        Open runs with mass inside.
    mass_mg, held_mg, in_process_mg : int
        On hand, of it on hold, and inside open runs, in mg.
    """

    rows: tuple[StockRow, ...]
    in_process: tuple[ProcessNow, ...]
    mass_mg: int
    held_mg: int
    in_process_mg: int


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
