"""A machine: its parts, times, meter, files, barrel and what is in it; and files of energy."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import JSONObject

from recycling.calc.energy.intervals import EPOCH
from recycling.calc.energy.logs import running_on
from recycling.models import (
    Barrel,
    EnergyFile,
    EnergyMeter,
    Job,
    Lot,
    Machine,
    MachinePart,
    MachinePhase,
    MeterReading,
    PartTime,
    Run,
)
from recycling.queries.people.names import Names
from recycling.queries.setup.practice import HEEL_IS_HOLDUP
from recycling.records.actors import Actor
from recycling.records.energy.entries import RAN_OVER
from recycling.records.energy.machines import (
    EnergyFileRow,
    HeelRow,
    MachinePage,
    PartRow,
    ReadingRow,
    TimeRow,
)
from recycling.records.setup.machines import BarrelRow, MeterRow
from recycling.stages import KEEPING_HEELS
from shared.errors import Unknown

LATEST = 20


def machine_of(actor: Actor, machine_id: int) -> Machine:
    """Find a machine of the actor's workshop, or say that there is none."""
    machine = Machine.objects.filter(workshop_id=actor.workshop_id, pk=machine_id).first()
    if machine is None:
        raise _unknown()
    return machine


def _unknown() -> Unknown:
    return Unknown.because("machine-unknown", "There is no such machine in this workshop.")


def machine_page(actor: Actor, machine_id: int) -> MachinePage:
    """Show all there is to know of a machine.

    Raises
    ------
    Unknown
        When there is no such machine.
    """
    names = Names(actor.workshop_id)
    machine = Machine.objects.filter(workshop_id=actor.workshop_id, pk=machine_id)
    row: Any = machine.annotate(**_INSIDE).first()
    if row is None:
        raise _unknown()
    phases = _phases(row, names)
    return MachinePage(
        machine=row.pk,
        name=row.name,
        kind=row.kind,
        note=row.note,
        parts=parts_of(row.pk),
        phase=next((one for one in phases if one.ended_at is None), None),
        times=_times(row, names),
        phases=phases,
        readings=_readings(row, names),
        files=tuple(_file_rows(names, EnergyFile.objects.filter(machine=row))[:LATEST]),
        heel=_heel(row.heel_now, row.run_now),
        barrel=_barrel(row.barrel_now, row.heel_now),
        meter=MeterRow(**row.meter_now) if row.meter_now else None,
        open_run=row.run_now["code"] if row.run_now else "",
    )


def _heel(heel: dict[str, Any] | None, run: dict[str, Any] | None) -> HeelRow | None:
    if heel:
        return HeelRow(heel["code"], heel["polymer"], heel["mass_mg"])
    melts = run and run["stage"] in KEEPING_HEELS and run["polymer"]
    return HeelRow("", run["polymer"], 0) if run and melts else None


def _barrel(barrel: dict[str, Any] | None, heel: dict[str, Any] | None) -> BarrelRow | None:
    if barrel:
        return BarrelRow(**barrel)
    return BarrelRow(heel["mass_mg"] / 1000, 0.0, 1, HEEL_IS_HOLDUP) if heel else None


def _newest(rows: QuerySet[Any], order: str, *same: str, **named: str) -> Subquery:
    said = JSONObject(**{name: name for name in same}, **named)
    return Subquery(rows.order_by(order).values(said=said)[:1])


_HERE = {"machine_id": OuterRef("pk")}
_HEELS = Lot.objects.filter(form="heel", account__balance_mg__gt=0, **_HERE)
_INSIDE = {
    "heel_now": _newest(_HEELS, "-number", "code", "polymer", mass_mg="account__balance_mg"),
    "run_now": _newest(
        Run.objects.filter(state=Run.OPEN, **_HERE), "-number", "code", "stage", "polymer"
    ),
    "barrel_now": _newest(
        Barrel.objects.filter(**_HERE), "-pk", "holdup_g", "plug_share", "tanks", "source"
    ),
    "meter_now": _newest(
        EnergyMeter.objects.filter(**_HERE),
        "-pk",
        "machine_id",
        "step_kwh",
        "class_percent",
        "source",
    ),
}
"""What is in a machine now, read with it."""


def parts_of(machine_id: int) -> tuple[PartRow, ...]:
    """List what draws energy in a machine, and since when each is on."""
    going = PartTime.objects.filter(part=OuterRef("pk"), ended_at=None, taken_back_at=None)
    rows = MachinePart.objects.filter(machine_id=machine_id).order_by("pk")
    columns = ("pk", "name", "kind", "source", "rated_w", "duty")
    since = Subquery(going.values("started_at")[:1])
    return tuple(PartRow(*row) for row in rows.values_list(*columns, since))


def _times(machine: Machine, names: Names) -> tuple[TimeRow, ...]:
    rows = PartTime.objects.filter(part__machine=machine, taken_back_at=None)
    columns = ("pk", "part__name", "started_at", "ended_at", "actor")
    latest = rows.order_by("-started_at", "-pk").values_list(*columns)[:LATEST]
    return tuple(TimeRow(*(*row[:4], names.of(row[4]))) for row in latest)


def _phases(machine: Machine, names: Names) -> tuple[TimeRow, ...]:
    rows = MachinePhase.objects.filter(machine=machine, taken_back_at=None)
    columns = ("pk", "kind", "started_at", "ended_at", "actor")
    latest = rows.order_by("-started_at", "-pk").values_list(*columns)[:LATEST]
    return tuple(TimeRow(*(*row[:4], names.of(row[4]))) for row in latest)


def _readings(machine: Machine, names: Names) -> tuple[ReadingRow, ...]:
    rows = MeterReading.objects.filter(machine=machine, taken_back_at=None)
    latest = list(rows.order_by("-read_at")[: LATEST + 1])
    found = []
    for place, row in enumerate(latest):
        before = latest[place + 1] if place + 1 < len(latest) else None
        since = None if before is None else _since(before, row)
        by, why = names.of(row.actor), row.fell_because
        found.append(ReadingRow(row.pk, row.read_at, row.reading_kwh, since, row.is_reset, why, by))
    return tuple(found[:LATEST])


def _since(before: MeterReading, row: MeterReading) -> float:
    """Say what a counter counted between two readings, kWh."""
    pair = [(before.reading_kwh, False, False)]
    start, end = running_on([*pair, (row.reading_kwh, row.is_reset, row.fell_because == RAN_OVER)])
    return end if row.is_reset else end - start


def heel_of(machine_id: int, at: datetime | None = None) -> HeelRow | None:
    """Give what is in a machine: its heel, or what the run that goes on melts in it."""
    if at is not None:
        return _heel_then(machine_id, at)
    rows = Lot.objects.filter(machine_id=machine_id, form="heel", account__balance_mg__gt=0)
    row = rows.order_by("-number").values_list("code", "polymer", "account__balance_mg").first()
    if row:
        return HeelRow(*row)
    melting = Run.objects.filter(machine_id=machine_id, stage__in=KEEPING_HEELS)
    going = melting.filter(state=Run.OPEN)
    inside = going.exclude(polymer="").order_by("-number").values_list("polymer", flat=True)
    return HeelRow("", inside[0], 0) if inside else None


def _heel_then(machine_id: int, at: datetime) -> HeelRow | None:
    """Give what was in a machine at a moment: what a run melted then, else the heel of then."""
    melting = Run.objects.filter(machine_id=machine_id, stage__in=KEEPING_HEELS)
    melting = melting.filter(started_at__lte=at)
    melting = melting.exclude(state=Run.VOID).exclude(polymer="").exclude(ended_at__lte=at)
    inside = melting.order_by("-number").values_list("polymer", flat=True).first()
    if inside:
        return HeelRow("", inside, 0)
    lots = Lot.objects.filter(machine_id=machine_id, form="heel")
    until = Q(account__postings__entry__happened_at__lte=at)
    kept = lots.annotate(then_mg=Sum("account__postings__mass_mg", filter=until))
    rows = kept.filter(then_mg__gt=0).order_by("-number")
    row = rows.values_list("code", "polymer", "then_mg").first()
    return HeelRow(*row) if row else None


def energy_file(actor: Actor, file_id: int) -> EnergyFileRow:
    """Show a file of energy and how far it is.

    Raises
    ------
    Unknown
        When there is no such file.
    """
    files = EnergyFile.objects.filter(workshop_id=actor.workshop_id, pk=file_id)
    rows = _file_rows(Names(actor.workshop_id), files)
    if not rows:
        raise Unknown.because("file-unknown", "There is no such file in this workshop.")
    return rows[0]


def energy_files(actor: Actor) -> list[EnergyFileRow]:
    """List the latest files of energy of all machines."""
    files = EnergyFile.objects.filter(workshop_id=actor.workshop_id)
    return _file_rows(Names(actor.workshop_id), files)[:LATEST]


def _file_rows(names: Names, files: Any) -> list[EnergyFileRow]:
    rows = list(files.select_related("machine").order_by("-pk")[:LATEST])
    jobs = Job.objects.filter(task__startswith="recycling.energy", finished_at=None)
    working = {job.arguments.get("file"): job.done_share for job in jobs} if rows else {}
    return [
        EnergyFileRow(
            file=row.pk,
            machine=row.machine_id,
            name=row.name,
            state=row.state,
            kind=row.kind or row.preview.get("kind", ""),
            failure=row.failure,
            machine_name=row.machine.name,
            by=names.of(row.brought_by),
            size_bytes=row.size_bytes,
            choices=row.choices,
            preview=row.preview,
            kwh=row.kwh,
            first_at=_moment(row.first_us),
            last_at=_moment(row.last_us),
            brought_at=row.brought_at,
            done_share=working.get(row.pk),
        )
        for row in rows
    ]


def _moment(at_us: int | None) -> datetime | None:
    return None if at_us is None else EPOCH + timedelta(microseconds=at_us)
