"""Collections, purchases and opening counts, what became of them, and who is in a lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.lots.changes import ChangeRow
from recycling.records.lots.lots import LotRow
from recycling.records.lots.origin_entries import OriginTexts


@dataclass(frozen=True)
class OriginRow:
    """A collection, purchase or opening count in a list.

    Attributes
    ----------
    code, kind : str
        Its code, and which of the three it is.
    source, programme, supplier : str
        Who gave or sold it, and what it counts towards.
    happened_at : datetime
        When it came in.
    mass_mg, lots : int
        Mass in mg, corrections included, and number of bags.
    """

    code: str
    kind: str
    source: str
    programme: str
    supplier: str
    happened_at: datetime
    mass_mg: int
    lots: int


@dataclass(frozen=True)
class SpoolShare:
    """A spool that holds some of an origin.

    Attributes
    ----------
    lot, polymer : str
        The spool's code, and its polymer.
    mass_mg, part_mg : int
        Mass of the spool as made, and of the origin in it, in mg; the part is 0 where it lies
        below the floor and is among the traces.
    share : float
        Part of the spool that is of the origin, from 0 to 1.
    made_at : datetime or None
        When the spool was made.
    """

    lot: str
    polymer: str
    mass_mg: int
    part_mg: int
    share: float
    made_at: datetime | None


@dataclass(frozen=True)
class FateLine:
    """Where some of an origin is now.

    Attributes
    ----------
    place : str
        "in spools", "in stock", "in side streams", "in process", "waste", "dispatched",
        "discarded", "water", "residue", "dust", "volatiles", "unaccounted" or "traces".
    mass_mg : int
        Mass in mg; the lines add up to what came in, exactly.
    share : float
        Part of what came in.
    detail : str
        For lots, forms; for what left, receivers or destinations.
    """

    place: str
    mass_mg: int
    share: float
    detail: str = ""


@dataclass(frozen=True)
class OriginRecord(OriginTexts):
    """All there is to know of an origin.

    Attributes
    ----------
    code, kind, run : str
        Its code, which of the three it is, and its receive run.
    source, programme, supplier, document, consent, note : str
        Who gave or sold it, what it counts towards, and what was noted.
    may_be_named : bool
        Whether the source has agreed to be named in public.
    happened_at : datetime
        When it came in.
    received_by : str
        Who received it.
    mass_mg : int
        Mass in mg, corrections included.
    lots : tuple of LotRow
        Its bags.
    fate : tuple of FateLine
        What became of every gram of it.
    changes : tuple of ChangeRow
        What was put right of it, in the order it was written.
    """

    code: str
    kind: str
    run: str
    source: str
    programme: str
    may_be_named: bool
    happened_at: datetime
    received_by: str
    mass_mg: int
    lots: tuple[LotRow, ...]
    fate: tuple[FateLine, ...]
    changes: tuple[ChangeRow, ...]


@dataclass(frozen=True)
class OriginPart:
    """One origin's part in a lot.

    Attributes
    ----------
    kind, code, source : str
        Which kind of origin, its code, and who gave or sold it.
    happened_at : datetime
        When it came in.
    mass_mg : int
        Its mass in the lot as made, in mg.
    share : float
        Part of the lot, from 0 to 1.
    """

    kind: str
    code: str
    source: str
    happened_at: datetime
    mass_mg: int
    share: float


@dataclass(frozen=True)
class LotOrigins:
    """Who is in a lot and how much.

    Attributes
    ----------
    lot, form : str
        The lot's code and form.
    mass_mg : int
        Mass as made, in mg; the parts and the traces add up to it exactly.
    model : str
        "well mixed", "feed order", or "order not known": then well mixed of what was fed by then.
    chain_of_custody : str
        The model of ISO 22095 that the lot can claim.
    origins : tuple of OriginPart
        The parts, largest first.
    traces_mg : int
        What lies below the floor, in mg.
    stale : bool
        Whether these figures wait to be recomputed after a correction.
    """

    lot: str
    form: str
    mass_mg: int
    model: str
    chain_of_custody: str
    origins: tuple[OriginPart, ...]
    traces_mg: int
    stale: bool
