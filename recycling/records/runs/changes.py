"""What was noted of a run, as it should have been."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class NotedChange:
    """A check or a setting as it should have been noted.

    Attributes
    ----------
    noted : int
        Its number; 0 adds one that was forgotten.
    key : str
        Which check or setting, for one that was forgotten.
    value, seen : str or None
        What it should have said, and what was seen after it.
    at : datetime or None
        When it was.
    happened : bool
        Whether it was at all; false takes it out.
    """

    noted: int = 0
    key: str = ""
    value: str | None = None
    seen: str | None = None
    at: datetime | None = None
    happened: bool = True


@dataclass(frozen=True, kw_only=True)
class FedChange:
    """When a refill should have been noted.

    Attributes
    ----------
    fed : int
        Its number.
    at : datetime
        When it was.
    """

    fed: int
    at: datetime


@dataclass(frozen=True, kw_only=True)
class RunChange:
    """What should have been said of a run; masses are corrected one by one.

    Attributes
    ----------
    reason : str
        Why it was wrong.
    note : str or None
        What else should be known of it.
    operators : tuple of str or None
        Names of all who worked.
    started_at : datetime or None
        When it started.
    checks, settings : tuple of NotedChange
        What was noted wrongly, or forgotten; a receiver and a document are checks.
    feeds : tuple of FedChange
        Times of refills.
    """

    reason: str
    note: str | None = None
    operators: tuple[str, ...] | None = None
    started_at: datetime | None = None
    checks: tuple[NotedChange, ...] = ()
    settings: tuple[NotedChange, ...] = ()
    feeds: tuple[FedChange, ...] = ()
