"""What is on hand, and what is in process."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ProcessNow:
    """An open run's work in process.

    Attributes
    ----------
    run, stage, polymer : str
        Its code, stage and polymer.
    mass_mg : int
        What is inside, in mg.
    """

    run: str
    stage: str
    polymer: str
    mass_mg: int


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
