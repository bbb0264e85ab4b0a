"""A file of entries that was brought: what was found in it, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ImportProblem:
    """One thing that stands against a file.

    Attributes
    ----------
    row : int
        The line of a CSV file, its header being 1; the place of an entry in JSON, from 1.
    pointer : str
        The column of a CSV file, or the place within the entry.
    code, detail : str
        A stable name, and what is wrong.
    """

    row: int
    pointer: str
    code: str
    detail: str


@dataclass(frozen=True)
class ImportedLot:
    """A lot that a file makes.

    Attributes
    ----------
    name, code : str
        What the file calls it, and its code once the file is taken.
    row : int
        The line of a CSV file or the place in JSON of what makes it, from 1.
    entry : str
        "collection", "purchase" or "opening"; the stage of a run that makes it.
    at : datetime or None
        When it came in, or when the run ended.
    giver : str
        The source or supplier.
    form, polymer, colour : str
        What is in it.
    mass_mg : int
        Its net mass, in mg.
    """

    name: str
    code: str
    row: int = 0
    entry: str = ""
    at: datetime | None = None
    giver: str = ""
    form: str = ""
    polymer: str = ""
    colour: str = ""
    mass_mg: int = 0


@dataclass(frozen=True)
class ImportRow:
    """A file of entries: how far it is, what is in it, and what stands against it.

    Attributes
    ----------
    number : int
        What it is found under.
    name, digest : str
        Its name, and the SHA-256 of its text.
    state : str
        "looking", "looked" (may be taken), "taking", "taken", or "failed".
    done_share : float
        How much of the work at hand is done, from 0 to 1.
    entries : int
        How many entries are in it.
    lots : tuple of ImportedLot
        Lots that it makes.
    problems : tuple of ImportProblem
        What stands against it; while there is any, nothing of it is recorded.
    more_problems : int
        How many more there are.
    brought_at : datetime
        When it was brought.
    brought_by : str
        By whom.
    taken_at : datetime or None
        When it was taken.
    """

    number: int
    name: str
    digest: str
    state: str
    done_share: float
    entries: int
    lots: tuple[ImportedLot, ...]
    problems: tuple[ImportProblem, ...]
    more_problems: int
    brought_at: datetime
    brought_by: str
    taken_at: datetime | None
