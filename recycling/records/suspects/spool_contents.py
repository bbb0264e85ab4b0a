"""What is in one spool: each candidate with its share, and what deviated on the way."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.records.process.deviations import Deviation
from recycling.records.suspects.ranking import Candidate


@dataclass(frozen=True)
class SpoolPart:
    """A candidate on the way of one spool.

    Attributes
    ----------
    candidate : Candidate
        What it is.
    share : float or None
        Part of the spool that came from it or went through it, 0 to 1; None where not known, as
        of two settings noted for one moment.
    mass_mg : int or None
        The same in mg.
    least, most : float or None
        Between what the share lies over all orders in which the lots can have been fed, where the
        order is not known; None where it is, and of what does not depend on it.
    """

    candidate: Candidate
    share: float | None
    mass_mg: int | None
    least: float | None = None
    most: float | None = None


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
    rests_on : str
        What its shares rest on: "feed order", "stated order", "well mixed" where a person chose
        that, or "order not known"; empty where it was never melted here.
    deviations : tuple of Deviation
        Worst first.
    """

    lot: str
    polymer: str
    mass_mg: int
    held: bool
    parts: tuple[SpoolPart, ...]
    deviations: tuple[Deviation, ...]
    rests_on: str = ""
