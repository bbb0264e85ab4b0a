"""What entries refer to, as people and programs see it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from recycling.records.people import EarlierNameRecord


@dataclass(frozen=True)
class SourceRecord:
    """Who gives.

    Attributes
    ----------
    id : int
        Its id.
    name, kind, note : str
        What it is called, its kind, and what else should be known.
    may_be_named : bool
        Whether it may be named in public.
    retired : bool
        Whether it is no longer offered.
    erased : bool
        Whether the name was erased; a number stands in its place.
    earlier_names : list of EarlierNameRecord
        What it was called before, the newest first; shown of one source.
    """

    id: int
    name: str
    kind: str
    may_be_named: bool
    note: str
    retired: bool = False
    erased: bool = False
    earlier_names: list[EarlierNameRecord] = field(default_factory=list)


@dataclass(frozen=True)
class ProgrammeRecord:
    """A grant, a school project or a target.

    Attributes
    ----------
    id : int
        Its id.
    name, funder : str
        What it is called, and who stands behind it.
    starts_date, ends_date : date or None
        Its time.
    target_mg : int or None
        How much is to be collected, in mg.
    retired : bool
        Whether it is no longer offered.
    """

    id: int
    name: str
    funder: str
    starts_date: date | None
    ends_date: date | None
    target_mg: int | None
    retired: bool = False


@dataclass(frozen=True)
class MachineRecord:
    """A machine.

    Attributes
    ----------
    id : int
        Its id.
    name, kind, note : str
        What it is called, its kind, and what else should be known.
    heel : str
        Code of the lot that is in it now; empty when it is.
    retired : bool
        Whether it is no longer offered.
    """

    id: int
    name: str
    kind: str
    note: str
    heel: str
    retired: bool = False


@dataclass(frozen=True)
class ScaleRecord:
    """A scale.

    Attributes
    ----------
    id : int
        Its id.
    name, accuracy_class : str
        What it is called, and its class by OIML R 76-1.
    interval_mg, capacity_mg : int
        Verification interval and largest load, in mg.
    checked_date : date or None
        Last check.
    retired : bool
        Whether it is no longer offered.
    """

    id: int
    name: str
    accuracy_class: str
    interval_mg: int
    capacity_mg: int
    checked_date: date | None
    retired: bool = False


@dataclass(frozen=True)
class ContainerRecord:
    """A container with a known tare.

    Attributes
    ----------
    id : int
        Its id.
    name : str
        What it is called.
    tare_mg : int
        Its empty mass in mg.
    retired : bool
        Whether it is no longer offered.
    """

    id: int
    name: str
    tare_mg: int
    retired: bool = False


@dataclass(frozen=True)
class PolymerRecord:
    """A polymer.

    Attributes
    ----------
    id : int
        Its id.
    code, name : str
        Its symbol and its name.
    resin_code : int or None
        Number in the triangle of ASTM D7611.
    density_g_cm3 : float or None
        Density of the solid.
    density_source : str
        Where the density comes from.
    """

    id: int
    code: str
    name: str
    resin_code: int | None
    density_g_cm3: float | None
    density_source: str


@dataclass(frozen=True)
class Finding:
    """Something the audit found.

    Attributes
    ----------
    invariant : int
        Number of the invariant of ``docs/concepts/invariants.md`` that is broken.
    subject : str
        The run, lot or account that breaks it.
    detail : str
        What is stored and what it should be.
    """

    invariant: int
    subject: str
    detail: str
