"""A machine as people see it: its parts, times, meter, files, barrel and what is in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from recycling.records.setup.machines import BarrelRow, MeterRow


@dataclass(frozen=True)
class PartRow:
    """A part of a machine; `on_since` says since when it is on now.

    Attributes
    ----------
    part : int
        Its id.
    name, kind, source : str
        What it is called, what it is, and where its figures come from.
    rated_w, duty : float
        Power on its plate, and the share of its time that it draws it.
    on_since : datetime or None
        Since when it is on.
    """

    part: int
    name: str
    kind: str
    source: str
    rated_w: float
    duty: float
    on_since: datetime | None


@dataclass(frozen=True)
class TimeRow:
    """Time that was logged, of a part or of a phase.

    Attributes
    ----------
    id : int
        Its id.
    what : str
        Name of the part, or the phase.
    started_at, ended_at : datetime
        From when to when; None goes on.
    by : str
        Who logged it.
    """

    id: int
    what: str
    started_at: datetime
    ended_at: datetime | None
    by: str


@dataclass(frozen=True)
class ReadingRow:
    """What the meter showed.

    Attributes
    ----------
    id : int
        Its id.
    read_at : datetime
        When.
    reading_kwh : float
        The counter.
    since_kwh : float or None
        Energy since the reading before; None for the first.
    is_reset : bool
        Whether it counted anew from zero before it.
    fell_because : str
        Why it shows less than before; empty where nobody said.
    by : str
        Who read it.
    """

    id: int
    read_at: datetime
    reading_kwh: float
    since_kwh: float | None
    is_reset: bool
    fell_because: str
    by: str


@dataclass(frozen=True)
class EnergyFileRow:
    """A file of energy.

    Attributes
    ----------
    file, machine : int
        Its id and that of its machine.
    name, state, kind, failure, machine_name, by : str
        What it is called, how far it is, what it holds, why it failed, its machine, who brought it.
    size_bytes : int
        Its size.
    choices, preview : dict
        What was said about it and what was found in it.
    kwh : float or None
        Its energy.
    first_at, last_at : datetime or None
        What it covers.
    brought_at : datetime
        When it came.
    done_share : float or None
        How far the work on it is.
    """

    file: int
    machine: int
    name: str
    state: str
    kind: str
    failure: str
    machine_name: str
    by: str
    size_bytes: int
    choices: dict[str, Any]
    preview: dict[str, Any]
    kwh: float | None
    first_at: datetime | None
    last_at: datetime | None
    brought_at: datetime
    done_share: float | None


@dataclass(frozen=True)
class HeelRow:
    """What is in a machine.

    Attributes
    ----------
    lot, polymer : str
        Its code and polymer.
    mass_mg : int
        How much.
    """

    lot: str
    polymer: str
    mass_mg: int


@dataclass(frozen=True)
class MachinePage:
    """All there is to know of a machine.

    Attributes
    ----------
    machine : int
        Its id.
    name, kind, note : str
        What it is called, what it is, what else should be known.
    parts : tuple of PartRow
        What draws energy in it.
    phase : TimeRow or None
        The phase that goes on.
    times, phases : tuple of TimeRow
        Latest logged times.
    readings : tuple of ReadingRow
        Latest readings, newest first.
    files : tuple of EnergyFileRow
        Files, newest first.
    heel : HeelRow or None
        What is in it.
    barrel : BarrelRow or None
        Its hold-up; None where nothing tells.
    meter : MeterRow or None
        How sure its energy meter is; None where nobody entered it.
    open_run : str
        Code of the run that goes on in it.
    """

    machine: int
    name: str
    kind: str
    note: str
    parts: tuple[PartRow, ...]
    phase: TimeRow | None
    times: tuple[TimeRow, ...]
    phases: tuple[TimeRow, ...]
    readings: tuple[ReadingRow, ...]
    files: tuple[EnergyFileRow, ...]
    heel: HeelRow | None
    barrel: BarrelRow | None
    meter: MeterRow | None
    open_run: str
