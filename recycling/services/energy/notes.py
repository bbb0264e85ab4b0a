"""Log energy: parts of machines, their times, phases between runs, and what meters show."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.counters import Shown, check_reason, falls_asked, with_falls
from recycling.keeping.deed import deed
from recycling.keeping.doubts import kept_doubts, times_asked
from recycling.keeping.lookups import check_moment, check_typed_moment
from recycling.keeping.machines import (
    LOGGED,
    check_needed,
    check_number,
    logged_by_id,
    machine_by_id,
    part_by_id,
)
from recycling.keeping.texts import check_text, require_reason
from recycling.models import MachinePart, MachinePhase, MeterReading, PartTime
from recycling.records.actors import Actor
from recycling.records.energy.entries import (
    PartEntry,
    PhaseEntry,
    ReadingEntry,
    ReadingKept,
    TimeEntry,
)
from shared.errors import Collected, Refused
from shared.said import say

MOST_W = 1_000_000
MOST_KWH = 1e9


@deed("manage")
def part_add(actor: Actor, entry: PartEntry) -> int:
    """Add a part of a machine with its rated power; return the machine's id.

    Raises
    ------
    Refused
        When the name is taken or missing, the kind unknown, or a figure out of bounds.
    """
    machine, found = machine_by_id(actor.workshop_id, entry.machine), Collected()
    check_needed(entry.name, "/name", "it a name", found)
    check_text(entry.name, "/name", found, 80)
    check_text(entry.source, "/source", found, 200)
    if entry.kind not in MachinePart.KINDS:
        found.add(
            "kind-unknown", say("One of {kinds}.", kinds=", ".join(MachinePart.KINDS)), "/kind"
        )
    check_number(entry.rated_w, 0.1, MOST_W, "/rated_w", "W", found)
    check_number(entry.duty_percent, 0.1, 100, "/duty_percent", "%", found)
    if machine.parts.filter(name__iexact=entry.name.strip()).exists():
        found.add(
            "name-taken",
            say("{machine} has a part “{entry}” already.", machine=machine.name, entry=entry.name),
            "/name",
        )
    found.refuse()
    part = MachinePart.objects.create(
        machine=machine,
        name=entry.name.strip(),
        kind=entry.kind,
        rated_w=entry.rated_w,
        duty=entry.duty_percent / 100,
        source=entry.source.strip(),
    )
    after = {"name": part.name, "rated_w": part.rated_w, "duty": part.duty, "source": part.source}
    keep_change(actor, f"part {part.pk}", "add", {}, after)
    return machine.pk


def _span(started_at: datetime, ended_at: datetime, found: Collected) -> None:
    check_moment(started_at, "/started_at", found)
    check_moment(ended_at, "/ended_at", found)
    if not found.any and ended_at <= started_at:
        found.add("end-before-start", "The end is not after the start.", "/ended_at")


def _refuse_overlap(rows: Any, started_at: datetime, ended_at: datetime, what: str) -> None:
    touching = rows.filter(taken_back_at=None, started_at__lt=ended_at)
    other = touching.filter(Q(ended_at=None) | Q(ended_at__gt=started_at)).first()
    if other is not None:
        start = timezone.localtime(other.started_at)
        raise Refused.because(
            "times-overlap",
            say(
                "{what} is logged from {start:%Y-%m-%d %H:%M} already; this time"
                " would count twice. Take that one back, or change these times.",
                what=what,
                start=start,
            ),
            "/started_at",
        )


@deed("record")
def part_time_add(actor: Actor, entry: TimeEntry) -> int:
    """Log a time in which a part was on; return the machine's id.

    Raises
    ------
    Refused
        When the time runs backward or overlaps one that is logged.
    """
    part, found = part_by_id(actor.workshop_id, entry.part), Collected()
    _span(entry.started_at, entry.ended_at, found)
    found.refuse()
    _refuse_overlap(part.times, entry.started_at, entry.ended_at, part.name)
    PartTime.objects.create(
        part=part, started_at=entry.started_at, ended_at=entry.ended_at, **_stamp(actor)
    )
    return part.machine_id


@deed("record")
def part_tap(actor: Actor, part_id: int, on: bool) -> int:
    """Say that a part goes on or off now; saying it twice changes nothing. Returns its machine.

    Raises
    ------
    Unknown
        When there is no such part.
    """
    part, now = part_by_id(actor.workshop_id, part_id), timezone.now()
    running = part.times.filter(ended_at=None, taken_back_at=None).first()
    if on and running is None:
        _refuse_overlap(part.times, now, now, part.name)
        PartTime.objects.create(part=part, started_at=now, **_stamp(actor))
    elif not on and running is not None:
        _end(running, now)
    return part.machine_id


def _end(running: Any, now: datetime) -> None:
    """End what goes on; what was on for no time at all is taken back."""
    if now > running.started_at:
        running.ended_at = now
    else:
        running.taken_back_at = now
    running.save(update_fields=["ended_at", "taken_back_at"])


@deed("record")
def phase_add(actor: Actor, entry: PhaseEntry) -> int:
    """Log a warm-up, purge or standby of a machine; return the machine's id.

    Raises
    ------
    Refused
        When the kind is unknown, or the time runs backward or overlaps one that is logged.
    """
    machine, found = machine_by_id(actor.workshop_id, entry.machine), Collected()
    if entry.kind not in MachinePhase.KINDS:
        found.add(
            "kind-unknown", say("One of {kinds}.", kinds=", ".join(MachinePhase.KINDS)), "/kind"
        )
    _span(entry.started_at, entry.ended_at, found)
    found.refuse()
    _refuse_overlap(machine.phases, entry.started_at, entry.ended_at, "A phase")
    MachinePhase.objects.create(
        machine=machine,
        kind=entry.kind,
        started_at=entry.started_at,
        ended_at=entry.ended_at,
        **_stamp(actor),
    )
    return machine.pk


@deed("record")
def phase_tap(actor: Actor, machine_id: int, kind: str) -> int:
    """Begin a phase now, which ends the one that goes on; an empty kind only ends it.

    Raises
    ------
    Refused
        When the kind is unknown.
    """
    machine, now = machine_by_id(actor.workshop_id, machine_id), timezone.now()
    if kind and kind not in MachinePhase.KINDS:
        raise Refused.because(
            "kind-unknown", say("One of {kinds}.", kinds=", ".join(MachinePhase.KINDS)), "/kind"
        )
    running = machine.phases.filter(ended_at=None, taken_back_at=None).first()
    if running is not None and running.kind != kind:
        _end(running, now)
    if kind and (running is None or running.kind != kind):
        _refuse_overlap(machine.phases, now, now, "A phase")
        MachinePhase.objects.create(machine=machine, kind=kind, started_at=now, **_stamp(actor))
    return machine.pk


@deed("record")
def reading_add(actor: Actor, entry: ReadingEntry) -> ReadingKept:
    """Keep what a machine's meter showed; where it shows less than before, it is asked why.

    Raises
    ------
    Refused
        When there is a reading of this moment, or the book has a later one that is lower.
    """
    machine, found = machine_by_id(actor.workshop_id, entry.machine), Collected()
    read_at = entry.read_at or timezone.now()
    check_typed_moment(read_at, "/read_at", found)
    check_number(entry.reading_kwh, 0, MOST_KWH, "/reading_kwh", "kWh", found)
    typed = Shown(read_at, entry.reading_kwh, entry.is_reset, entry.fell_because, "")
    check_reason(typed, found)
    found.refuse()
    rows = with_falls(_around(machine.readings, typed, found), found)
    found.refuse()
    kept = next(one for one in rows if one.place is not None)
    MeterReading.objects.create(
        machine=machine,
        read_at=read_at,
        reading_kwh=kept.reading_kwh,
        is_reset=kept.from_zero,
        fell_because=kept.fell_because,
        **_stamp(actor),
    )
    asked = falls_asked(rows, [typed], machine.name) + times_asked([("/read_at", entry.read_at)])
    return ReadingKept(machine.pk, kept_doubts(actor, None, asked))


def _around(rows: Any, typed: Shown, found: Collected) -> list[Shown]:
    """List the reading with the one before and the one after it."""
    kept = rows.filter(taken_back_at=None)
    if kept.filter(read_at=typed.at).exists():
        found.add("reading-twice", "There is a reading of this moment already.", "/read_at")
    before = kept.filter(read_at__lt=typed.at).order_by("-read_at")[:1]
    after = kept.filter(read_at__gt=typed.at).order_by("read_at")[:1]
    columns = ("read_at", "reading_kwh", "is_reset", "fell_because")
    shown = [[Shown(*row) for row in end.values_list(*columns)] for end in (before, after)]
    return [*shown[0], typed, *shown[1]]


@deed("record")
def logged_take_back(actor: Actor, kind: str, logged_id: int, reason: str) -> int:
    """Take a logged time, phase or reading back; it stays readable. Returns its machine's id.

    Raises
    ------
    Refused
        When no reason is given, or there is nothing like it.
    """
    row = logged_by_id(actor.workshop_id, kind, logged_id)
    why = require_reason(reason)
    if isinstance(row, MeterReading):
        _refuse_fall_without(row)
    LOGGED[kind].objects.filter(pk=row.pk).update(taken_back_at=timezone.now())
    keep_change(actor, f"{kind} {row.pk}", "take back", {"was": str(row)}, {}, why)
    return row.part.machine_id if isinstance(row, PartTime) else row.machine_id


def _refuse_fall_without(row: MeterReading) -> None:
    """Refuse to take a reading back where its neighbours would then run backward."""
    kept = MeterReading.objects.filter(machine_id=row.machine_id, taken_back_at=None)
    before = kept.filter(read_at__lt=row.read_at).order_by("-read_at").first()
    after = kept.filter(read_at__gt=row.read_at).order_by("read_at").first()
    may_fall = after is not None and (after.is_reset or after.fell_because)
    if before and after and not may_fall and after.reading_kwh < before.reading_kwh:
        raise Refused.because(
            "counter-fell",
            say(
                "Without it the counter would fall from {reading_kwh:g} to"
                " {reading_kwh_2:g} kWh. Take the later readings back first.",
                reading_kwh=before.reading_kwh,
                reading_kwh_2=after.reading_kwh,
            ),
        )


def _stamp(actor: Actor) -> dict[str, Any]:
    return {"written_at": timezone.now(), "actor": actor.reference}
