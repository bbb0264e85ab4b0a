"""Runs like this one, the settings in force, and the wait after a change of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ClosestRun:
    """An earlier run of like material.

    Attributes
    ----------
    run : str
        Its code.
    ended_at : datetime
        When it ended.
    likeness : float
        Share of the material that has the same sources, from 0 to 1.
    settings : str
        Its settings as they were for most of what its product was made in.
    stage_yield : float or None
        Product over what it drew of its polymer, as on its own page.
    good, bad : int
        Spools of it that everybody called good, and those that anybody called bad.
    """

    run: str
    ended_at: datetime
    likeness: float
    settings: str
    stage_yield: float | None
    good: int
    bad: int


@dataclass(frozen=True)
class Wait:
    """The wait after the last change of a setting.

    Attributes
    ----------
    label, value, unit, source : str
        What was changed, to what, and where the length of the wait is from.
    changed_at, until_at : datetime
        When, and until when to wait before the next change.
    minutes : float
        How long.
    over : bool
        Whether it is over.
    """

    label: str
    value: str
    unit: str
    source: str
    changed_at: datetime
    until_at: datetime
    minutes: float
    over: bool
