"""What is known of an archive of a whole workshop."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ArchiveEntry:
    """An archive of the whole workshop that is asked for.

    Attributes
    ----------
    people : bool
        Whether names and account names of members are in it.
    """

    people: bool = True


@dataclass(frozen=True)
class ArchiveRow:
    """An archive that was asked for: how far it is, and its file until it expires.

    Attributes
    ----------
    number : int
        What it is found under.
    state : str
        "making", "ready", "failed", or "expired" when its file is gone.
    step : str
        What is being done: "waiting", "writing", "checking" or "done".
    done_share : float
        How much of the work is done, from 0 to 1.
    failure : str
        Why it could not be made.
    people : bool
        Whether names and account names of members are in it.
    asked_at : datetime
        When it was asked for.
    asked_by : str
        Who asked.
    made_at, expires_at : datetime or None
        When it was ready, and when its file is cleared away.
    facts, sequence, size_bytes : int or None
        How many facts it holds, up to which entry of the book, and the size of its file.
    digest : str
        SHA-256 of its file.
    name : str
        Name of its file.
    """

    number: int
    state: str
    step: str
    done_share: float
    failure: str
    people: bool
    asked_at: datetime
    asked_by: str
    made_at: datetime | None
    expires_at: datetime | None
    facts: int | None
    sequence: int | None
    size_bytes: int | None
    digest: str
    name: str


@dataclass(frozen=True)
class Restored:
    """A workshop that was put back from an archive.

    Attributes
    ----------
    slug, name : str
        Its short name and its name.
    sequence : int
        How many entries its book holds.
    facts : int
        How many rows were put back in all.
    usernames : tuple of str
        Accounts that have no password yet.
    """

    slug: str
    name: str
    sequence: int
    facts: int
    usernames: tuple[str, ...]
