"""What each request's body holds, where it differs from the entry behind it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from api.protocol.declared import body_of
from recycling.records.lots.mass_entries import DrawEntry, HeelEntry, LossEntry, OutputEntry
from recycling.records.lots.origin_entries import (
    COLLECTION,
    OPENING,
    PURCHASE,
    BagEntry,
    OriginEntry,
)
from recycling.records.runs.entries import CheckEntry, RunEntry, SettingEntry

OPEN, CLOSED = "open", "closed"


@dataclass(frozen=True)
class BagBody(BagEntry):
    """One bag or box that came in; becomes a lot. Its polymer is always said."""

    polymer: str = field(kw_only=True)


@dataclass(frozen=True)
class Confirming:
    """What is said to be right of an entry.

    Attributes
    ----------
    confirmed : tuple of str
        Keys of doubts about these figures that are right as they stand.
    """

    confirmed: tuple[str, ...] = field(default=(), kw_only=True)


CollectionBody = body_of(
    OriginEntry,
    COLLECTION,
    "One donation or pick-up, with the bags weighed in.",
    Confirming,
    bags=BagBody,
)
PurchaseBody = body_of(
    OriginEntry,
    PURCHASE,
    "Material that was bought: purge compound, virgin pellets.",
    Confirming,
    bags=BagBody,
)
OpeningBody = body_of(
    OriginEntry,
    OPENING,
    "Stock found when the book starts, and the first heel of each machine.",
    Confirming,
    bags=BagBody,
)


@dataclass(frozen=True)
class RunBody(RunEntry, Confirming):
    """A whole run, or with state "open" the start of one.

    Attributes
    ----------
    state : str
        "closed" for a run recorded whole, "open" for one that goes on.
    """

    state: str = CLOSED


@dataclass(frozen=True)
class DrawBody(DrawEntry, Confirming):
    """Mass taken from a lot into an open run.

    Attributes
    ----------
    at : datetime or None
        When, with offset; now where it is left out.
    """

    at: datetime | None = None


@dataclass(frozen=True)
class OutputBody(OutputEntry, Confirming):
    """Mass that an open run gave; becomes a lot.

    Attributes
    ----------
    at : datetime or None
        When, with offset; now where it is left out.
    """

    at: datetime | None = None


@dataclass(frozen=True)
class LossBody(LossEntry, Confirming):
    """Mass that an open run lost as water, residue, dust or volatiles.

    Attributes
    ----------
    at : datetime or None
        When, with offset; now where it is left out.
    """

    at: datetime | None = None


@dataclass(frozen=True)
class SettingBody(SettingEntry, Confirming):
    """A setting that was changed during an open run."""


@dataclass(frozen=True)
class CheckBody(CheckEntry, Confirming):
    """What was noted of an open run."""


@dataclass(frozen=True)
class CloseBody(Confirming):
    """The end of an open run; what is left inside becomes unaccounted.

    Attributes
    ----------
    ended_at : datetime or None
        When it ended, with offset; now where it is left out.
    outputs, losses, heel, checks
        What came out last, was lost, stays in the machine, and was noted.
    """

    ended_at: datetime | None = None
    outputs: tuple[OutputEntry, ...] = ()
    losses: tuple[LossEntry, ...] = ()
    heel: HeelEntry | None = None
    checks: tuple[CheckEntry, ...] = ()


@dataclass(frozen=True)
class ReasonBody:
    """Why something is undone or released.

    Attributes
    ----------
    reason : str
        Why, in a few words.
    """

    reason: str


@dataclass(frozen=True)
class VoidBody:
    """Why a run is voided.

    Attributes
    ----------
    reason : str
        Why, in a few words.
    with_descendants : bool
        Void also the runs that drew on what it gave, and so on, in the same deed.
    """

    reason: str
    with_descendants: bool = False


@dataclass(frozen=True)
class CorrectionBody:
    """What a typed figure should have been.

    Attributes
    ----------
    mass_mg : int
        What it should have been, in mg, without sign; zero when it was not there at all.
    reason : str
        Why.
    flow : bool
        Whether draws that took the lot whole, and so are known by the book alone, follow.
    """

    mass_mg: int
    reason: str
    flow: bool = False


@dataclass(frozen=True)
class ModelBody:
    """How the origins of what a run gave are to be computed.

    Attributes
    ----------
    composition_model : str
        "well mixed" or "feed order".
    reason : str
        Why.
    """

    composition_model: str
    reason: str


@dataclass(frozen=True)
class HoldBody:
    """Why something may not be drawn from.

    Attributes
    ----------
    reason : str
        Why.
    with_descendants : bool
        Hold all that descends from it too, now and later.
    """

    reason: str
    with_descendants: bool = False


@dataclass(frozen=True)
class LotEventBody:
    """Something that happened to a lot without changing its mass.

    Attributes
    ----------
    kind : str
        "sealed", "opened", "moved", "printed" or "note".
    happened_at : datetime
        When, with offset.
    place, note : str
        Where to, and what else.
    """

    kind: str
    happened_at: datetime
    place: str = ""
    note: str = ""


@dataclass(frozen=True)
class VerdictBody:
    """What the user of a spool says of it.

    Attributes
    ----------
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong, from the trade's short list.
    note : str
        In the user's words.
    """

    good: bool
    defects: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class UndoBody:
    """What is to be undone, where something else may have been recorded since.

    Attributes
    ----------
    undo_until : datetime or None
        As the answer to what is undone said; then nothing else is taken back.
    """

    undo_until: datetime | None = None


@dataclass(frozen=True)
class NothingBody:
    """A body without fields: an empty object."""
