"""What the day's page and the bench must know: dried lots that wait, waits, checks due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

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
    """

    run: str
    wait_until: datetime | None
    label: str
    checks: tuple[str, ...]
