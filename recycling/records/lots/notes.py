"""What is said of a lot: a hold, an event."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class HoldEntry:
    """A lot, or all lots of a collection, that may not be drawn from.

    Attributes
    ----------
    target : str
        Code of the lot or collection.
    reason : str
        Why.
    with_descendants : bool
        Hold all that descends from it too, now and later.
    """

    target: str
    reason: str
    with_descendants: bool = False


@dataclass(frozen=True)
class LotEventEntry:
    """Something that happened to a lot without changing its mass.

    Attributes
    ----------
    lot : str
        The lot's code.
    kind : str
        "sealed", "opened", "moved", "printed" or "note".
    happened_at : datetime
        When, aware.
    place, note : str
        Where to, and what else.
    """

    lot: str
    kind: str
    happened_at: datetime
    place: str = ""
    note: str = ""
