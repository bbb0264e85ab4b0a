"""What is in one spool: each candidate with its share, and what deviated on the way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.suspects.ranking import Candidate


@dataclass(frozen=True)
class SpoolPart:
    """A candidate on the way of one spool.

    Attributes
    ----------
    candidate : Candidate
        What it is.
    share : float
        Part of the spool that came from it or went through it, 0 to 1.
    mass_mg : int
        The same in mg.
    """

    candidate: Candidate
    share: float
    mass_mg: int


@dataclass(frozen=True)
class Deviation:
    """Something on the way of a spool that was not as it should be.

    Attributes
    ----------
    kind : str
        "check", "diameter", "open run", "balance", "left open", "not recorded" or "heel".
    run : str
        Code of the run where it was recorded.
    stage : str
        That run's stage.
    lot : str
        Code of the lot that is meant, empty for the run as a whole.
    label, value, limit : str
        What was looked at, what was found, and what it should have been.
    at : datetime or None
        When.
    share : float
        Part of the spool that met it, 0 to 1.
    weight : int
        3 for what is known to spoil spools, 2 for what may, 1 for what leaves a gap in the record.
    """

    kind: str
    run: str
    stage: str
    lot: str
    label: str
    value: str
    limit: str
    at: datetime | None
    share: float
    weight: int


@dataclass(frozen=True)
class SpoolContents:
    """What is in a spool, and every deviation on its way.

    Attributes
    ----------
    lot, polymer : str
        The spool's code and polymer.
    mass_mg : int
        Its mass as made, in mg.
    held : bool
        Whether it is on hold.
    parts : tuple of SpoolPart
        Every candidate on its way, by kind, the largest share first.
    deviations : tuple of Deviation
        Worst first.
    """

    lot: str
    polymer: str
    mass_mg: int
    held: bool
    parts: tuple[SpoolPart, ...]
    deviations: tuple[Deviation, ...]
