"""Changes to what entries refer to: what is left out stays as it is; nothing is ever deleted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class SourceChange:
    """A change to who gives.

    Attributes
    ----------
    name, kind, note : str or None
        What it is called, its kind, and what else should be known.
    may_be_named : bool or None
        Whether it may be named in public from now on.
    retired : bool or None
        Whether it is no longer offered; false brings it back.
    """

    name: str | None = None
    kind: str | None = None
    may_be_named: bool | None = None
    note: str | None = None
    retired: bool | None = None


@dataclass(frozen=True)
class ProgrammeChange:
    """A change to a grant, school project or target.

    Attributes
    ----------
    name, funder : str or None
        What it is called, and who stands behind it.
    starts_date, ends_date : date or None
        Its time.
    target_mg : int or None
        How much is to be collected, in mg.
    retired : bool or None
        Whether it is no longer offered; false brings it back.
    empty : tuple of str
        Names of fields that hold nothing from now on: "starts_date", "ends_date", "target_mg".
    """

    name: str | None = None
    funder: str | None = None
    starts_date: date | None = None
    ends_date: date | None = None
    target_mg: int | None = None
    retired: bool | None = None
    empty: tuple[str, ...] = ()


@dataclass(frozen=True)
class MachineChange:
    """A change to a machine; its kind stays what it was, for runs were made on it.

    Attributes
    ----------
    name, note : str or None
        What it is called, and what else should be known.
    retired : bool or None
        Whether it is no longer offered; false brings it back.
    """

    name: str | None = None
    note: str | None = None
    retired: bool | None = None


@dataclass(frozen=True)
class ScaleChange:
    """A change to a scale. Class, interval and largest load only before it was weighed on.

    Attributes
    ----------
    name, accuracy_class : str or None
        What it is called; class I, II, III or IIII of OIML R 76-1.
    interval_mg, capacity_mg : int or None
        Verification interval e and largest load, in mg.
    checked_date : date or None
        Last check.
    retired : bool or None
        Whether it is no longer offered; false brings it back.
    """

    name: str | None = None
    interval_mg: int | None = None
    capacity_mg: int | None = None
    accuracy_class: str | None = None
    checked_date: date | None = None
    retired: bool | None = None


@dataclass(frozen=True)
class ContainerChange:
    """A change to a container; what was weighed in it keeps the tare that was taken off.

    Attributes
    ----------
    name : str or None
        What it is called.
    tare_mg : int or None
        Its empty mass in mg.
    retired : bool or None
        Whether it is no longer offered; false brings it back.
    """

    name: str | None = None
    tare_mg: int | None = None
    retired: bool | None = None
