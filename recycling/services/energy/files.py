"""Bring a file of energy: looked through first, taken when a person has seen what is in it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from functools import partial
from typing import Any
from zoneinfo import available_timezones

from django.db import transaction
from django.utils import timezone

from recycling import jobs
from recycling.keeping.background import failures_told, job_done, job_waiting, refuse_spent
from recycling.keeping.deed import deed, retried
from recycling.keeping.energy_files import (
    LARGEST_BYTES,
    keep_points,
    place_of,
    preview_of,
    put_down,
    read_file,
)
from recycling.keeping.machines import check_number, machine_by_id
from recycling.models import EnergyFile, Job, Machine
from recycling.records.actors import Actor
from recycling.records.energy.entries import FileEntry
from shared.errors import Collected, Conflict, Refused, Unknown
from shared.said import say

LOOK, TAKE = "recycling.energy_look", "recycling.energy_take"
METERED = ("counter", "interval")
LARGEST_FILE = LARGEST_BYTES
READING, TOLD_AT_LEAST = 0.9, 0.02
BROKE = "something broke on our side: bring the file again"


def file_bring(actor: Actor, entry: FileEntry, pieces: Iterable[bytes]) -> int:
    """Put a file down and have it looked through; the same file again is the one that is there.

    Returns the file's id. Nothing of it counts before it is taken.

    Raises
    ------
    Refused
        When it is empty or too large, or what is said about it makes no sense.
    """
    if not actor.may("record"):
        return _keep_file(actor, entry, "", 0)  # refuses before anything is put down
    _check_choices(entry)
    digest, size = put_down(actor.workshop_id, pieces)
    return _keep_file(actor, entry, digest, size)


def _check_choices(entry: FileEntry) -> None:
    found = Collected()
    if entry.zone not in available_timezones():
        found.add("zone-unknown", "Use a name such as Europe/Lisbon.", "/zone")
    check_number(entry.max_gap_s, 1, 31 * 86_400, "/max_gap_s", "s", found)
    if entry.rollover_kwh is not None:
        check_number(entry.rollover_kwh, 1, 1e12, "/rollover_kwh", "kWh", found)
    for name, allowed in (
        ("kind", ("", "power", "counter", "interval")),
        ("repeated_hour", ("by order", "first", "second")),
        ("rule", ("trapezoid", "step")),
        ("decimal", ("", ".", ",")),
        ("separator", ("", ";", ",", "|", "tab")),
    ):
        if getattr(entry, name) not in allowed:
            found.add(
                "choice-wrong",
                say("One of {repr}.", repr=", ".join(map(repr, allowed))),
                f"/{name}",
            )
    found.refuse()


@deed("record")
def _keep_file(actor: Actor, entry: FileEntry, digest: str, size: int) -> int:
    machine = machine_by_id(actor.workshop_id, entry.machine)
    same = EnergyFile.objects.filter(machine=machine, digest=digest).first()
    if same is not None:
        if same.state == EnergyFile.TAKEN:
            place_of(digest, actor.workshop_id).unlink(missing_ok=True)
        else:
            _look(same, entry)
        return same.pk
    file = EnergyFile.objects.create(
        workshop_id=actor.workshop_id,
        machine=machine,
        name=entry.name[:200],
        digest=digest,
        size_bytes=size,
        state=EnergyFile.LOOKING,
        brought_at=timezone.now(),
        brought_by=actor.reference,
    )
    _look(file, entry)
    return file.pk


def _look(file: EnergyFile, entry: FileEntry) -> None:
    said = {name: value for name, value in asdict(entry).items() if name not in ("machine", "name")}
    file.choices, file.state, file.failure = said, EnergyFile.LOOKING, ""
    file.save(update_fields=["choices", "state", "failure"])
    jobs.start(file.workshop_id, LOOK, file=file.pk)


def _file_of(actor: Actor, file_id: int) -> EnergyFile:
    files = EnergyFile.objects.select_related("machine")
    file = files.filter(workshop_id=actor.workshop_id, pk=file_id).first()
    if file is None:
        raise Unknown.because("file-unknown", "There is no such file in this workshop.")
    return file


@deed("record")
def file_choose(actor: Actor, file_id: int, entry: FileEntry) -> int:
    """Say something else about a file that was not taken yet, and have it looked through again.

    Raises
    ------
    Refused
        When it was taken, or what is said makes no sense.
    """
    file = _file_of(actor, file_id)
    _refuse_taken(file)
    _check_choices(entry)
    _look(file, entry)
    return file.pk


def _refuse_taken(file: EnergyFile) -> None:
    if file.state in (EnergyFile.TAKING, EnergyFile.TAKEN):
        raise Conflict.because("file-taken", say("{file} was taken already.", file=file.name))


@deed("record")
def file_take(actor: Actor, file_id: int) -> int:
    """Have a file taken whose preview a person has seen; one that is taken stays as it is.

    Raises
    ------
    Refused
        When something stands against it, or another file covers the same time of the machine.
    """
    file = _file_of(actor, file_id)
    if file.state in (EnergyFile.TAKING, EnergyFile.TAKEN):
        return file.pk
    if file.state != EnergyFile.LOOKED or not file.preview.get("can_be_written"):
        raise Refused.because(
            "file-not-ready", "Something stands against this file; see what was found in it."
        )
    _refuse_double(file, file.preview["kind"], file.preview["first_us"], file.preview["last_us"])
    file.state = EnergyFile.TAKING
    file.save(update_fields=["state"])
    jobs.start(file.workshop_id, TAKE, file=file.pk)
    return file.pk


def _refuse_double(file: EnergyFile, kind: str, first_us: int, last_us: int) -> None:
    """Refuse a second file of one kind over the same time of a machine."""
    kinds = METERED if kind in METERED else (kind,)
    others = EnergyFile.objects.filter(
        machine_id=file.machine_id, state=EnergyFile.TAKEN, kind__in=kinds
    ).exclude(pk=file.pk)
    other = others.filter(first_us__lt=last_us, last_us__gt=first_us).first()
    if other is not None:
        raise Refused.because(
            "times-overlap",
            say(
                "“{other}” covers a part of the same time of this machine already;"
                " the energy would count twice. Cut this file to what is new.",
                other=other.name,
            ),
        )


@deed("record")
def file_drop(actor: Actor, file_id: int) -> int:
    """Drop a file that was not taken; return its machine's id. Raises Refused when it was."""
    file = _file_of(actor, file_id)
    _refuse_taken(file)
    place = place_of(file.digest, file.workshop_id)
    transaction.on_commit(lambda: place.unlink(missing_ok=True), robust=True)
    machine_id = file.machine_id
    file.delete()
    return machine_id


def file_look(job_id: int) -> None:
    """Look a file through; what was found is kept with it. One that is done or gone is left."""
    job, file = _work(job_id, EnergyFile.LOOKING)
    if job is None or file is None:
        return
    with failures_told(partial(_fail, job, file), BROKE, ValueError, file=file.pk):
        refuse_spent(job)
        layout, preview, _points = read_file(file, _teller(job, file))
        found = {"preview": preview_of(layout, preview), "state": EnergyFile.LOOKED}
        retried(lambda: _finish(job, file, found))


def _teller(job: Job, file: EnergyFile) -> Callable[[int], None]:
    """Keep with the job which share of the file's bytes was read; writing is the last tenth."""
    told = 0.0

    def tell(read_bytes: int) -> None:
        nonlocal told
        share = READING * read_bytes / max(file.size_bytes, 1)
        if share - told >= TOLD_AT_LEAST:
            told = share
            Job.objects.filter(pk=job.pk).update(done_share=share)

    return tell


def _work(job_id: int, state: str) -> tuple[Job | None, EnergyFile | None]:
    job = job_waiting(job_id)
    if job is None:
        return None, None
    file = EnergyFile.objects.filter(pk=job.arguments["file"], state=state).first()
    if file is None:
        job_done(job)
    return job, file


@transaction.atomic
def _finish(job: Job, file: EnergyFile, found: dict[str, Any]) -> None:
    """Keep what came of the work, unless something else was said of the file meanwhile."""
    EnergyFile.objects.filter(pk=file.pk, state=file.state, choices=file.choices).update(**found)
    job_done(job)


def _fail(job: Job, file: EnergyFile, why: str) -> None:
    kept = file.preview if file.state == EnergyFile.TAKING else {}
    found = {"failure": why[:500], "state": EnergyFile.FAILED, "preview": kept}
    retried(lambda: _finish(job, file, found))


def file_write(job_id: int) -> None:
    """Take a file: its points are stored and it counts from then on, all of it or nothing."""
    job, file = _work(job_id, EnergyFile.TAKING)
    if job is None or file is None:
        return
    with failures_told(partial(_fail, job, file), BROKE, ValueError, file=file.pk):
        refuse_spent(job)
        _layout, preview, points = read_file(file, _teller(job, file))
        if preview.digest != file.digest or not preview.can_be_written:
            raise ValueError("the file is not the one that was looked through")
        retried(lambda: _write(job, file, preview, points))
        place_of(file.digest, file.workshop_id).unlink(missing_ok=True)


@transaction.atomic
def _write(job: Job, file: EnergyFile, preview: Any, points: Any) -> None:
    Machine.objects.select_for_update().get(pk=file.machine_id)
    kind = file.preview["kind"]
    _refuse_double(file, kind, preview.first_us, preview.last_us)
    keep_points(file, points)
    found = {
        "state": EnergyFile.TAKEN,
        "kind": kind,
        "first_us": int(points.at_us[0]),
        "last_us": int(points.at_us[-1]),
        "kwh": preview.kwh,
        "taken_at": timezone.now(),
    }
    _finish(job, file, found)
