"""Findings that were kept, frozen with their data."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from recycling.calc.suspects.priors import USUAL, SuspectPriors
from recycling.records.suspects.ranking import SuspectQuestion, Suspects


@dataclass(frozen=True)
class FindingEntry:
    """A search to be kept as it stands now.

    Attributes
    ----------
    title : str
        What it is about.
    question : SuspectQuestion
        Which spools and candidates it looks at.
    priors : SuspectPriors
        What is believed beforehand.
    note : str
        What else should be known of it.
    """

    title: str
    question: SuspectQuestion = field(default_factory=SuspectQuestion)
    priors: SuspectPriors = USUAL
    note: str = ""


@dataclass(frozen=True)
class FindingRow:
    """A kept finding in a list.

    Attributes
    ----------
    number : int
        Its number in the workshop.
    title, kept_by, digest : str
        What it is about, who kept it, and the SHA-256 of its data.
    kept_at : datetime
        When.
    """

    number: int
    title: str
    kept_by: str
    digest: str
    kept_at: datetime


@dataclass(frozen=True)
class FindingRecord:
    """A kept finding, read from its frozen data alone.

    Attributes
    ----------
    number : int
        Its number in the workshop.
    title, note, kept_by : str
        What it is about, what else was noted, and who kept it.
    kept_at : datetime
        When.
    sequence : int
        How many entries the book held.
    digest : str
        SHA-256 of its data.
    intact : bool
        Whether the data still has that digest.
    suspects : Suspects
        What was found.
    """

    number: int
    title: str
    note: str
    kept_by: str
    kept_at: datetime
    sequence: int
    digest: str
    intact: bool
    suspects: Suspects
