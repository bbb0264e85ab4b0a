"""Shared tablets as pages show them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

LOCK_MINUTES = 5


@dataclass(frozen=True)
class TabletHere:
    """The shared tablet that asks.

    Attributes
    ----------
    id, workshop_id : int
        Keys of the tablet and its workshop.
    slug, workshop, label : str
        Short name and name of the workshop, name of the tablet.
    lock_minutes : int
        After so many minutes untouched it asks who is acting.
    """

    id: int
    workshop_id: int
    slug: str
    workshop: str
    label: str
    lock_minutes: int


@dataclass(frozen=True)
class TabletRow:
    """A shared tablet in the list of set-up.

    Attributes
    ----------
    id : int
        Its key.
    label, by : str
        Its name, and who made the device a shared tablet.
    created_at, last_used_at : datetime
        When that was, and when somebody unlocked it last.
    """

    id: int
    label: str
    by: str
    created_at: datetime
    last_used_at: datetime | None


@dataclass(frozen=True)
class TabletIssued:
    """A device that was made a shared tablet; the token is for its cookie, and shown nowhere.

    Attributes
    ----------
    id : int
        Its key.
    token : str
        What the device keeps.
    """

    id: int
    token: str
