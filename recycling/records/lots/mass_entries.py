"""What is weighed: draws, outputs, losses, counts, and how."""

from __future__ import annotations

from dataclasses import dataclass, replace

BY_BOOK = "by book"
HOW = ("weighed", "counted", "estimated")


@dataclass(frozen=True)
class WeighingEntry:
    """How a mass became known.

    Attributes
    ----------
    how : str
        "weighed", "counted" (bottles times a mean mass) or "estimated".
    gross_mg, tare_mg : int or None
        Reading with, and of, the container, in mg; their difference is the net mass.
    scale : str
        Name of the scale, empty when none was named.
    note : str
        What else should be known of it.
    sample : str
        Name of the sample of bottles, for a counted mass.
    u_mg : int or None
        Standard uncertainty in mg, as whoever weighed or estimated it states; None to have it
        worked out.
    raw : str
        The reading as the scale sent it, or as it was typed.
    """

    how: str = "weighed"
    gross_mg: int | None = None
    tare_mg: int | None = None
    scale: str = ""
    note: str = ""
    sample: str = ""
    u_mg: int | None = None
    raw: str = ""


@dataclass(frozen=True)
class DrawEntry:
    """Mass taken from a lot into a run.

    Attributes
    ----------
    lot : str
        The lot's code.
    mass_mg : int or None
        Mass in mg; None with `all`.
    all : bool
        Take all that is on hand.
    weighing : WeighingEntry
        How the mass became known.
    """

    lot: str
    mass_mg: int | None = None
    all: bool = False
    weighing: WeighingEntry = WeighingEntry()

    @property
    def known_by(self) -> WeighingEntry:
        """How its mass became known: what was taken whole and not weighed is known by the book."""
        if self.all and self.weighing.gross_mg is None and self.weighing.how == "weighed":
            return replace(self.weighing, how=BY_BOOK)
        return self.weighing


@dataclass(frozen=True)
class SpoolEntry:
    """What makes a lot of filament a spool.

    Attributes
    ----------
    diameter_mm, tolerance_mm : float
        Nominal diameter and its tolerance.
    tare_mg : int or None
        Mass of the empty spool.
    length_m : float or None
        Length wound, where it was measured.
    """

    diameter_mm: float = 1.75
    tolerance_mm: float | None = 0.05
    tare_mg: int | None = None
    length_m: float | None = None


@dataclass(frozen=True)
class OutputEntry:
    """Mass that a run gave; becomes a lot.

    Attributes
    ----------
    form : str
        Form of the lot, one that the stage gives.
    mass_mg : int
        Net mass in mg; 0 for so many counted pieces by a sample of them.
    polymer, colour : str
        Empty for those of the run.
    role : str
        Empty for the stage's own role of this form.
    spool : SpoolEntry or None
        For a spool of filament.
    count : int or None
        Number of pieces, where they were counted.
    weighing : WeighingEntry
        How the mass became known.
    note : str
        What else should be known of it.
    """

    form: str
    mass_mg: int
    polymer: str = ""
    colour: str = ""
    role: str = ""
    spool: SpoolEntry | None = None
    count: int | None = None
    weighing: WeighingEntry = WeighingEntry()
    note: str = ""


@dataclass(frozen=True)
class LossEntry:
    """Mass that left as water, residue, dust or volatiles.

    Attributes
    ----------
    account : str
        "water", "residue", "dust" or "volatiles".
    mass_mg : int
        Mass in mg; below zero only where a stage takes up water.
    how : str
        "weighed", "counted" or "estimated"; or in other words how it was found.
    weighing : WeighingEntry
        How the mass became known.
    """

    account: str
    mass_mg: int
    how: str = ""
    weighing: WeighingEntry = WeighingEntry()

    @property
    def known_by(self) -> WeighingEntry:
        """How its mass became known, with what was said of it."""
        if self.how in HOW:
            return replace(self.weighing, how=self.how)
        return replace(self.weighing, note=self.weighing.note or self.how)


@dataclass(frozen=True)
class HeelEntry:
    """What stays in the machine at the end of a run.

    Attributes
    ----------
    mass_mg : int
        Mass in mg.
    polymer : str
        Empty for the run's own.
    """

    mass_mg: int
    polymer: str = ""


@dataclass(frozen=True)
class CountEntry:
    """What a count found.

    Attributes
    ----------
    lot : str
        The lot's code.
    mass_mg : int
        Mass found in mg; zero when nothing was there.
    weighing : WeighingEntry
        How the mass became known.
    """

    lot: str
    mass_mg: int
    weighing: WeighingEntry = WeighingEntry()
