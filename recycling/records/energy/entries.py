"""What people and meters enter of energy."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from recycling.records.balance.doubts import EntryDoubt

RAN_OVER = "ran over"
FELL_BECAUSE = ("replaced", "set to zero", RAN_OVER)
"""Why a counter shows less than before."""


@dataclass(frozen=True)
class PartEntry:
    """A part of a machine that draws energy.

    Attributes
    ----------
    machine : int
        Id of the machine.
    name, kind : str
        What it is called; "heater", "motor", "fan", "pump" or "other".
    rated_w : float
        Power on its plate, W.
    duty_percent : float
        How much of its logged time it draws that power, percent.
    source : str
        Where the figures come from.
    """

    machine: int
    name: str
    kind: str
    rated_w: float
    duty_percent: float = 100.0
    source: str = ""


@dataclass(frozen=True)
class TimeEntry:
    """Time in which a part was on.

    Attributes
    ----------
    part : int
        Id of the part.
    started_at, ended_at : datetime
        From when to when, aware.
    """

    part: int
    started_at: datetime
    ended_at: datetime


@dataclass(frozen=True)
class PhaseEntry:
    """Time of a machine outside its runs.

    Attributes
    ----------
    machine : int
        Id of the machine.
    kind : str
        "warm-up", "purge" or "standby".
    started_at, ended_at : datetime
        From when to when, aware.
    """

    machine: int
    kind: str
    started_at: datetime
    ended_at: datetime


@dataclass(frozen=True)
class ReadingEntry:
    """What the energy meter of a machine showed.

    Attributes
    ----------
    machine : int
        Id of the machine.
    reading_kwh : float
        The counter, kWh.
    read_at : datetime or None
        When, aware; None for now.
    is_reset : bool
        Whether it counted anew from zero since the reading before.
    fell_because : str
        Why it shows less than before: "replaced", "set to zero" or "ran over"; empty where
        nobody said.
    """

    machine: int
    reading_kwh: float
    read_at: datetime | None = None
    is_reset: bool = False
    fell_because: str = ""


@dataclass(frozen=True)
class ReadingKept:
    """A reading that was kept.

    Attributes
    ----------
    machine : int
        Id of its machine.
    doubts : tuple of EntryDoubt
        What is to be asked about it.
    """

    machine: int
    doubts: tuple[EntryDoubt, ...] = ()


@dataclass(frozen=True)
class ReadingSent:
    """One value that a meter or a plug sent.

    Attributes
    ----------
    at : datetime
        When, aware.
    reading : float
        The counter in kWh, or the power in W.
    reset : bool
        Of a counter: whether it counted anew from zero since the value before.
    fell_because : str
        Of a counter: why it shows less than before: "replaced", "set to zero" or "ran over".
    """

    at: datetime
    reading: float
    reset: bool = False
    fell_because: str = ""


@dataclass(frozen=True)
class ReadingsEntry:
    """Values of one machine, in bulk.

    Attributes
    ----------
    machine : str
        Name or id of the machine.
    kind : str
        "counter" for readings of a meter in kWh, "power" for samples in W.
    readings : tuple of ReadingSent
        The values, each time once.
    max_gap_s : float
        Of power: longest time between two samples that still counts as covered, s.
    """

    machine: str
    kind: str
    readings: tuple[ReadingSent, ...]
    max_gap_s: float = 300.0


@dataclass(frozen=True)
class FileEntry:
    """A file of energy, and what a person says about it.

    Attributes
    ----------
    machine : int
        Id of the machine.
    name : str
        What the file is called.
    kind, unit, value_column, time_columns, time_shape, separator, decimal : str
        What it holds and how it is laid out; empty leaves it to the file itself.
    zone : str
        Whose wall clock it was written by.
    max_gap_s : float
        Longest time between rows that counts as covered, s.
    repeated_hour : str
        "by order", "first" or "second": how an hour that came twice is told.
    rule : str
        "trapezoid" or "step": how power runs between samples.
    sort : bool
        Whether rows out of order are put in order.
    rollover_kwh : float or None
        Where a counter's dial starts again.
    falls_are_resets : bool
        Whether the counter was reset or exchanged wherever it fell.
    """

    machine: int
    name: str = ""
    kind: str = ""
    unit: str = ""
    value_column: str = ""
    time_columns: str = ""
    time_shape: str = ""
    separator: str = ""
    decimal: str = ""
    zone: str = ""
    max_gap_s: float = 300.0
    repeated_hour: str = "by order"
    rule: str = "trapezoid"
    sort: bool = False
    rollover_kwh: float | None = None
    falls_are_resets: bool = False


@dataclass(frozen=True)
class TariffEntry:
    """A price of electricity.

    Attributes
    ----------
    price_per_kwh : float
        The price.
    currency : str
        Its code of three letters (ISO 4217).
    source : str
        Where it stands.
    read_date, valid_from : date
        When it was read there, and from when it holds.
    """

    price_per_kwh: float
    currency: str
    source: str
    read_date: date
    valid_from: date


@dataclass(frozen=True)
class FactorEntry:
    """Carbon of a unit of electricity, as its publisher states it.

    Attributes
    ----------
    value : float
        The figure.
    unit : str
        "kg/kWh", "g/kWh", "kg/MWh", "t/MWh", "lb/kWh" or "lb/MWh", of CO2-equivalent.
    scope, region, publisher : str
        What is counted, where it holds, and who publishes it.
    year : int
        For which year.
    read_date, valid_from : date
        When it was read there, and from when it is used.
    """

    value: float
    unit: str
    scope: str
    region: str
    year: int
    publisher: str
    read_date: date
    valid_from: date


@dataclass(frozen=True)
class ReadingsKept:
    """What became of values that were sent.

    Attributes
    ----------
    machine : str
        The machine.
    kept : int
        Values that are new.
    known : int
        Values that were there already, the same.
    first_at, last_at : datetime
        Time of the first and the last value sent.
    doubts : tuple of EntryDoubt
        Readings between which the machine would have taken more than it can by its plate.
    """

    machine: str
    kept: int
    known: int
    first_at: datetime
    last_at: datetime
    doubts: tuple[EntryDoubt, ...] = ()
