"""What a suspect has reached: spools and stock, with share, place and receiver."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Handed:
    """Mass of a spool that left the workshop.

    Attributes
    ----------
    run : str
        Code of the dispatch.
    at : datetime
        When.
    mass_mg : int
        How much, in mg.
    receiver, document : str
        Whom it went to and with which paper; empty for a reader who may not see it.
    """

    run: str
    at: datetime
    mass_mg: int
    receiver: str
    document: str


@dataclass(frozen=True)
class AffectedLot:
    """A lot that a suspect has reached.

    Attributes
    ----------
    lot, form, polymer : str
        Its code and what it is.
    spool : bool
        Whether it is a spool.
    share : float
        Part of it that came from or through the suspect, 0 to 1.
    part_mg : int
        The same of its mass as made, in mg.
    made_mg, on_hand_mg : int
        Mass as made and what is still here, in mg.
    made_at : datetime or None
        When it was made; None while its run is open.
    held : bool
        Whether it is on hold.
    place : str
        Where it was last moved to; empty where nobody noted it.
    standing : str
        "good", "bad" or "contradictory" by its verdicts; empty where it is not judged.
    handed : tuple of Handed
        What of it left, and to whom.
    rests_on : str
        What its share rests on: "feed order", "stated order", "well mixed" where a person chose
        that, or "order not known"; empty where it was not melted after the suspect.
    least, most : float or None
        Between what its share lies over all orders, where the order is not known.
    """

    lot: str
    form: str
    polymer: str
    spool: bool
    share: float
    part_mg: int
    made_mg: int
    on_hand_mg: int
    made_at: datetime | None
    held: bool
    place: str
    standing: str
    handed: tuple[Handed, ...]
    rests_on: str = ""
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True)
class Affected:
    """Everything that a suspect has reached.

    Attributes
    ----------
    key, kind, code, name : str
        The suspect, as a candidate.
    targets : tuple of str
        Codes to put on hold so that all of it stops, now and later.
    held : bool
        Whether those are on hold with all that descends from them.
    names_shown : bool
        Whether receivers are shown to this reader.
    spools : tuple of AffectedLot
        Spools, the largest share first.
    stock : tuple of AffectedLot
        Other lots with mass on hand, the largest share first.
    """

    key: str
    kind: str
    code: str
    name: str
    targets: tuple[str, ...]
    held: bool
    names_shown: bool
    spools: tuple[AffectedLot, ...]
    stock: tuple[AffectedLot, ...]


@dataclass(frozen=True)
class SharedFlow:
    """Mass of a suspect between a run and a lot.

    Attributes
    ----------
    run, lot : str
        Their codes.
    direction : str
        "in" where the run drew from the lot, "out" where it gave the lot.
    role : str
        The lot's role in the run, for "out".
    mass_mg, part_mg : int
        All of the flow, and how much of it is of the suspect, in mg.
    share : float
        Part of the flow that is of the suspect, 0 to 1.
    """

    run: str
    lot: str
    direction: str
    role: str
    mass_mg: int
    part_mg: int
    share: float


@dataclass(frozen=True)
class WayPlace:
    """A lot or run that a suspect's share flows through.

    Attributes
    ----------
    code, form, stage : str
        Its code; the form of a lot, or the stage of a run.
    part_mg : int
        Of a lot as made: how much is of the suspect, in mg.
    share : float
        Part of it that is of the suspect, 0 to 1.
    held : bool
        Whether a lot is on hold.
    at : datetime or None
        When it was made or ended.
    """

    code: str
    form: str
    stage: str
    part_mg: int
    share: float
    held: bool
    at: datetime | None


@dataclass(frozen=True)
class SuspectWay:
    """How a suspect's share flows on, to all it reached or to one spool.

    Attributes
    ----------
    key, kind, code, name : str
        The suspect, as a candidate.
    spool : str
        The spool at the end; empty for all that it reached.
    lots, runs : tuple of WayPlace
        What it flows through.
    flows : tuple of SharedFlow
        Between them.
    """

    key: str
    kind: str
    code: str
    name: str
    spool: str
    lots: tuple[WayPlace, ...]
    runs: tuple[WayPlace, ...]
    flows: tuple[SharedFlow, ...]
