"""What is entered of how good a lot is: particles, filament, and the verdict of who printed it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class ParticlesEntry:
    """Largest dimensions of particles of a lot.

    Attributes
    ----------
    lot : str
        The lot's code.
    sizes_mm : tuple of float
        One for each particle, mm.
    measured_at : datetime or None
        When, aware; None for now.
    """

    lot: str
    sizes_mm: tuple[float, ...]
    measured_at: datetime | None = None


@dataclass(frozen=True)
class FilamentEntry:
    """Diameters of a spool's filament.

    Attributes
    ----------
    lot : str
        The spool's code.
    first_mm, second_mm : tuple of float
        Along one axis, and at the same places along the other, where that was measured, mm.
    length_m : float or None
        Length on the spool, where it was measured.
    measured_at : datetime or None
        When, aware; None for now.
    """

    lot: str
    first_mm: tuple[float, ...]
    second_mm: tuple[float, ...] = ()
    length_m: float | None = None
    measured_at: datetime | None = None


@dataclass(frozen=True)
class VerdictEntry:
    """What the user of a spool says of it.

    Attributes
    ----------
    lot : str
        The spool's code.
    good : bool
        Whether it printed well.
    defects : tuple of str
        What was wrong, from the trade's short list.
    note : str
        In the user's words.
    """

    lot: str
    good: bool
    defects: tuple[str, ...] = ()
    note: str = ""
