"""What entries refer to: sources, programmes, machines, people, keys."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class SourceEntry:
    """Who gives.

    Attributes
    ----------
    name, kind : str
        What it is called, and whether it is a school, a shop, a household, …
    may_be_named : bool
        Whether the giver has agreed to be named in public.
    note : str
        What else should be known.
    """

    name: str
    kind: str = "other"
    may_be_named: bool = False
    note: str = ""


@dataclass(frozen=True)
class ProgrammeEntry:
    """A grant, a school project or a target.

    Attributes
    ----------
    name, funder : str
        What it is called, and who stands behind it.
    starts_date, ends_date : date or None
        Its time.
    target_mg : int or None
        How much is to be collected, in mg.
    """

    name: str
    funder: str = ""
    starts_date: date | None = None
    ends_date: date | None = None
    target_mg: int | None = None


@dataclass(frozen=True)
class MachineEntry:
    """A machine.

    Attributes
    ----------
    name, kind : str
        What it is called, and whether it is a shredder, a dryer, an extruder, …
    note : str
        What else should be known.
    """

    name: str
    kind: str
    note: str = ""


@dataclass(frozen=True)
class ScaleEntry:
    """A scale, as on its plate.

    Attributes
    ----------
    name, accuracy_class : str
        What it is called; class I, II, III or IIII of OIML R 76-1.
    interval_mg, capacity_mg : int
        Verification interval e and largest load, in mg.
    checked_date : date or None
        Last check.
    """

    name: str
    interval_mg: int
    capacity_mg: int
    accuracy_class: str = "III"
    checked_date: date | None = None


@dataclass(frozen=True)
class ContainerEntry:
    """A container with a known tare.

    Attributes
    ----------
    name : str
        What it is called.
    tare_mg : int
        Its empty mass in mg.
    """

    name: str
    tare_mg: int


@dataclass(frozen=True)
class PolymerEntry:
    """A polymer.

    Attributes
    ----------
    code, name : str
        Symbol of ISO 1043-1, and the name in full.
    resin_code : int or None
        Number in the triangle of ASTM D7611.
    density_g_cm3 : float or None
        Density of the solid.
    density_source : str
        Where the density comes from.
    """

    code: str
    name: str = ""
    resin_code: int | None = None
    density_g_cm3: float | None = None
    density_source: str = ""
