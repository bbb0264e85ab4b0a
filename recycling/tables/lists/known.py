"""What a workshop has set up and remembers, as far as reading a list needs it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from hashlib import sha256

from recycling.tables.lists.folded import folded

USUAL_LARGEST_MG = 10**9
"""What no single bag weighs where no scale is set up: a tonne (default, not checked)."""


@dataclass(frozen=True)
class Known:
    """What a list is read against.

    Attributes
    ----------
    zone : str
        IANA name of the zone whose clock the list is written by.
    now : datetime
        When it is read, aware.
    sources, programmes : tuple of str
        Names that are set up.
    polymers : tuple of (str, str, int or None)
        Code, name and resin code of each polymer.
    largest_mg : int
        What the largest scale can weigh, in mg.
    answers : mapping of str to mapping of str to str
        Answers that are remembered, by folded heads; those of names under the empty text.
    """

    zone: str
    now: datetime = datetime(2100, 1, 1, tzinfo=UTC)
    sources: tuple[str, ...] = ()
    programmes: tuple[str, ...] = ()
    polymers: tuple[tuple[str, str, int | None], ...] = ()
    largest_mg: int = USUAL_LARGEST_MG
    answers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """All names, whose words prove an encoding."""
        return (*self.sources, *self.programmes, *(name for _, name, _ in self.polymers))


def signature(heads: Iterable[str]) -> str:
    """Give the mark of the heads of a list, under which answers are remembered.

    SHA-256 of the folded heads; empty columns at the end do not count.

    Examples
    --------
    >>> signature(["Datum", "Gewicht (kg)", ""]) == signature(["DATUM", "gewicht kg"])
    True
    """
    return sha256("|".join(folded(head) for head in heads).rstrip("|").encode()).hexdigest()
