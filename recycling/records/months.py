"""The months of a balance side by side."""

from __future__ import annotations

from dataclasses import dataclass


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
