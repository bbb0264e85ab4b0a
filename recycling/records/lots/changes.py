"""Facts put right, and the history of what they were."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ChangeRow:
    """A fact that was put right, and what it was before.

    Attributes
    ----------
    fact, before, after : str
        Which fact, what it was and what it became; empty for nothing.
    reason, by : str
        Why, and who did it.
    written_at : datetime
        When.
    undo_until : datetime
        Until when whoever did it can undo it without a reason, with all that was changed with it.
    """

    fact: str
    before: str
    after: str
    reason: str
    by: str
    written_at: datetime
    undo_until: datetime


@dataclass(frozen=True)
class FactsUndone:
    """A change of facts that was taken back.

    Attributes
    ----------
    code : str
        Of the lot, run or collection.
    facts : tuple of str
        Which facts are again what they were.
    """

    code: str
    facts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class OriginChange:
    """What a collection, purchase or opening count should have said.

    Attributes
    ----------
    reason : str
        Why it was wrong.
    source, programme : str or None
        Name or id of the one who gave, and of what it counts towards; an empty programme is none.
    supplier, document, consent, note : str or None
        Who sold it, the number of the delivery note, what the giver agreed to, and what else.
    received_by : str or None
        Name of the member who received it.
    """

    reason: str
    source: str | None = None
    programme: str | None = None
    supplier: str | None = None
    document: str | None = None
    consent: str | None = None
    note: str | None = None
    received_by: str | None = None


@dataclass(frozen=True, kw_only=True)
class LotChange:
    """What should have been said of a lot.

    Attributes
    ----------
    reason : str
        Why it was wrong.
    form, colour, note : str or None
        What it is, its colour, and what else should be known.
    count : int or None
        Number of pieces.
    diameter_mm, tolerance_mm, length_m : float or None
        A spool's nominal diameter, its tolerance, and its length.
    tare_mg : int or None
        Mass of the empty spool, in mg.
    empty : tuple of str
        Names of fields that hold nothing: "count", "tolerance_mm", "length_m", "tare_mg".
    """

    reason: str
    form: str | None = None
    colour: str | None = None
    note: str | None = None
    count: int | None = None
    diameter_mm: float | None = None
    tolerance_mm: float | None = None
    length_m: float | None = None
    tare_mg: int | None = None
    empty: tuple[str, ...] = ()
