"""A machine's log by request: its parts, times, phases and meter, and what is taken back."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

from api.protocol.bodies import Confirming
from api.protocol.requests import Door, records, shows
from recycling.queries.energy.machines import machine_page
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt
from recycling.records.energy.entries import PartEntry, PhaseEntry, ReadingEntry, TimeEntry
from recycling.records.energy.machines import MachinePage
from recycling.services.energy.notes import (
    logged_take_back,
    part_add,
    part_tap,
    part_time_add,
    phase_add,
    phase_tap,
    reading_add,
)


@dataclass(frozen=True)
class PartBody:
    """A part of a machine that draws energy.

    Attributes
    ----------
    name, kind : str
        What it is called; "heater", "motor", "fan", "pump" or "other".
    rated_w : float
        Power on its plate, W.
    duty_percent : float
        How much of its logged time it draws that power, percent.
    source : str
        Where the figures come from.
    """

    name: str
    kind: str
    rated_w: float
    duty_percent: float = 100.0
    source: str = ""


@dataclass(frozen=True)
class TimeBody:
    """Time in which a part was on.

    Attributes
    ----------
    started_at, ended_at : datetime
        From when to when, with offset.
    """

    started_at: datetime
    ended_at: datetime


@dataclass(frozen=True)
class PhaseBody:
    """Time of a machine outside its runs.

    Attributes
    ----------
    kind : str
        "warm-up", "purge" or "standby".
    started_at, ended_at : datetime
        From when to when, with offset.
    """

    kind: str
    started_at: datetime
    ended_at: datetime


@dataclass(frozen=True)
class ReadingBody(Confirming):
    """What the energy meter of a machine showed.

    Attributes
    ----------
    reading_kwh : float
        The counter, kWh.
    read_at : datetime or None
        When, with offset; now where it is left out.
    is_reset : bool
        Whether it counted anew from zero since the reading before.
    fell_because : str
        Why it shows less than before: "replaced", "set to zero" or "ran over". Where nobody says
        it, it counts from zero, and `doubts` ask.
    """

    reading_kwh: float
    read_at: datetime | None = None
    is_reset: bool = False
    fell_because: str = ""


@dataclass(frozen=True)
class MachineRead(MachinePage):
    """A machine as it is after its meter was read.

    Attributes
    ----------
    doubts : tuple of EntryDoubt
        What should be looked at again of what was just read.
    """

    doubts: tuple[EntryDoubt, ...] = ()


@dataclass(frozen=True)
class PartNowBody:
    """Whether a part goes on or off now.

    Attributes
    ----------
    on : bool
        true for on; said twice it changes nothing.
    """

    on: bool


@dataclass(frozen=True)
class PhaseNowBody:
    """Which phase of a machine begins now.

    Attributes
    ----------
    kind : str
        "warm-up", "purge" or "standby"; empty only ends the one that goes on.
    """

    kind: str


@dataclass(frozen=True)
class TakeBackBody:
    """Why something that was logged is taken back.

    Attributes
    ----------
    kind : str
        "time" of a part, "phase" or "reading".
    reason : str
        Why.
    """

    kind: str
    reason: str


class MachineApi(Door):
    needs = {"GET": "read"}

    @shows(MachinePage, rows_of=lambda page: page.readings)
    def get(self, actor: Actor, machine: int) -> MachinePage:
        """Show all there is to know of a machine; as CSV, the latest readings of its meter."""
        return machine_page(actor, machine)


class MachinePartsApi(Door):
    needs = {"POST": "manage"}

    @records(PartBody, MachinePage)
    def post(self, actor: Actor, body: PartBody, machine: int) -> MachinePage:
        """Add a part of a machine with the power on its plate."""
        return machine_page(actor, part_add(actor, PartEntry(machine, **vars(body))))


class MachinePhasesApi(Door):
    needs = {"POST": "record"}

    @records(PhaseBody, MachinePage)
    def post(self, actor: Actor, body: PhaseBody, machine: int) -> MachinePage:
        """Log a warm-up, purge or standby of a machine."""
        return machine_page(actor, phase_add(actor, PhaseEntry(machine, **vars(body))))


class MachinePhaseNowApi(Door):
    needs = {"POST": "record"}

    @records(PhaseNowBody, MachinePage, status=200)
    def post(self, actor: Actor, body: PhaseNowBody, machine: int) -> MachinePage:
        """Begin a phase now, which ends the one that goes on."""
        return machine_page(actor, phase_tap(actor, machine, body.kind))


class MachineReadingsApi(Door):
    needs = {"POST": "record"}

    @records(ReadingBody, MachineRead)
    def post(self, actor: Actor, body: ReadingBody, machine: int) -> MachineRead:
        """Keep what a machine's meter showed; many at once go to energy/readings/."""
        read = ReadingEntry(
            machine, body.reading_kwh, body.read_at, body.is_reset, body.fell_because
        )
        done = reading_add(actor, read)
        page = machine_page(actor, done.machine)
        shown = {field.name: getattr(page, field.name) for field in fields(page)}
        return MachineRead(**shown, doubts=done.doubts)


class PartTimesApi(Door):
    needs = {"POST": "record"}

    @records(TimeBody, MachinePage)
    def post(self, actor: Actor, body: TimeBody, part: int) -> MachinePage:
        """Log a time in which a part was on."""
        return machine_page(actor, part_time_add(actor, TimeEntry(part, **vars(body))))


class PartNowApi(Door):
    needs = {"POST": "record"}

    @records(PartNowBody, MachinePage, status=200)
    def post(self, actor: Actor, body: PartNowBody, part: int) -> MachinePage:
        """Say that a part goes on or off now."""
        return machine_page(actor, part_tap(actor, part, body.on))


class LoggedTakeBackApi(Door):
    needs = {"POST": "record"}

    @records(TakeBackBody, MachinePage, status=200)
    def post(self, actor: Actor, body: TakeBackBody, logged: int) -> MachinePage:
        """Take a logged time, phase or reading back; it stays readable in the history."""
        machine = logged_take_back(actor, body.kind, logged, body.reason)
        return machine_page(actor, machine)
