"""What is asked once of a figure that was typed, and the figures that wait for an answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Suggestion:
    """What a figure may be instead.

    Attributes
    ----------
    value : str
        What to send or type in its place: a mass with its unit, a time with its offset, a number.
    """

    value: str


@dataclass(frozen=True)
class EntryDoubt:
    """Something to look at again of what was just recorded; it is recorded all the same.

    Attributes
    ----------
    key : str
        Send it back in `confirmed` to say that it is right; the same entry has the same keys.
    said : str
        What is doubtful and why, in words.
    field : str
        Pointer to the figure in what was sent; empty where it is about no single one.
    suggestions : tuple of Suggestion
        What it may be instead, the likeliest first.
    """

    key: str
    said: str
    field: str = ""
    suggestions: tuple[Suggestion, ...] = ()


@dataclass(frozen=True)
class DoubtRow:
    """A doubt about a figure in the book that nobody answered or put right yet.

    Attributes
    ----------
    number : int
        By which it is answered.
    run, lot : str
        Codes of its run and lot; empty where it is about none.
    said : str
        What is doubtful and why, in words.
    suggestions : tuple of Suggestion
        What it may be instead, the likeliest first.
    posting : int or None
        Id of the posting that carries the figure; None where it is no mass.
    raised_at : datetime
        When it was recorded.
    """

    number: int
    run: str
    lot: str
    said: str
    suggestions: tuple[Suggestion, ...]
    posting: int | None
    raised_at: datetime


@dataclass(frozen=True)
class DoubtAnswered:
    """A doubt that was answered: the figure is right.

    Attributes
    ----------
    number : int
        Of the doubt.
    said : str
        What was doubtful, in words.
    answered_at : datetime
        When somebody said that it is right.
    """

    number: int
    said: str
    answered_at: datetime
