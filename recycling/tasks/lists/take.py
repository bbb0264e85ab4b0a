"""Look files of entries through by recording all of it and undoing it; take them in parts.

A file is read outside any transaction. What is recorded of it holds the writers of every book up
on SQLite, so that it goes in parts of about a second, each of them all or nothing; a short file
is one part. What of a file was recorded is kept with the part, and the next try goes on there.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import structlog
from celery import shared_task
from django.db import InterfaceError, OperationalError, transaction
from django.utils import timezone

from recycling.keeping.background import job_done, job_waiting, refuse_spent, worked
from recycling.models import ImportFile
from recycling.queries.people.members import actor_behind
from recycling.records.actors import Actor
from recycling.records.lists import ImportProblem
from recycling.services.lists import LOOK, TAKE
from recycling.tables.lists.entries_csv import column_of, read_rows
from recycling.tables.lists.entries_file import FileEntry, read_entries
from recycling.tasks.lists.found import MOST_PROBLEMS, kept_of, lots_in, problem_in
from recycling.tasks.lists.load import Loaded, entry_record
from shared.errors import Problem, Refused, Unavailable
from shared.said import say

BROKE = say("Something broke on our side; nothing was recorded. Send the file again.")
PART_SECONDS, PAUSE_SECONDS = 0.8, 0.15
"""How long a part may hold up other writers, and for how long they come first after it."""
READ_SECONDS, LOOK_SECONDS = 30, 1.5
"""How long a file may be read, and entries that need each other be looked through at once."""
log = structlog.get_logger("recycling.imports")


@shared_task(name=LOOK)
@worked
def import_look(job_id: int) -> None:
    _work(job_id, ImportFile.LOOKING)


@shared_task(name=TAKE)
@worked
def import_write(job_id: int) -> None:
    _work(job_id, ImportFile.TAKING)


def _work(job_id: int, doing: str) -> None:
    """Look a file through or take it; whatever breaks, whoever waits is told."""
    job = job_waiting(job_id)
    if job is None:
        return
    files = ImportFile.objects.select_related("workshop")
    file = files.filter(pk=job.arguments["file"], state=doing).first()
    if file is not None:
        try:
            refuse_spent(job)
            read = _read(file)
            problems = _taken(read) if doing == ImportFile.TAKING else _looked(read)
        except (OperationalError, InterfaceError, Unavailable):
            raise
        except Refused as refused:
            problems = [problem_in(one, None, _is_json(file)) for one in refused.problems]
        except Exception as error:
            log.exception("file of entries broke", number=file.number, error=repr(error))
            problems = [problem_in(Problem("import-broke", BROKE), None, False)]
        if problems:
            _fail(file, problems)
    job_done(job)


@dataclass(frozen=True)
class _Read:
    """A file that was read: by whom it is recorded, and what is in it."""

    file: ImportFile
    actor: Actor
    entries: list[FileEntry]
    unread: list[ImportProblem]


def _is_json(file: ImportFile) -> bool:
    return file.text.lstrip().startswith("{")


def _read(file: ImportFile) -> _Read:
    """Read a file, outside any transaction; raises Refused when it cannot be."""
    until = time.monotonic() + READ_SECONDS

    def tick() -> None:
        if time.monotonic() > until:
            said = say("Reading it takes more than {most} s; split the file.", most=READ_SECONDS)
            raise Refused.because("import-too-long", said)

    wrong: Sequence[Problem] = ()
    if _is_json(file):
        entries = read_entries(file.text, tick)
    else:
        entries, wrong = read_rows(file.text, file.workshop.zone, tick)
    reference = file.taken_by if file.state == ImportFile.TAKING else file.brought_by
    actor = actor_behind(file.workshop_id, reference) if reference else None
    if actor is None:
        said = say("Whoever brought this file is no member any more.")
        raise Refused.because("member-gone", said)
    return _Read(file, actor, entries, [problem_in(one, None, _is_json(file)) for one in wrong])


def _looked(read: _Read) -> list[ImportProblem]:
    """Record all of a file that is not recorded yet, and undo it; return what is against it.

    Rows of a list do not need each other, so that they are undone part by part. Entries in JSON
    do: they are looked through at once, which bounds how many they may be.
    """
    recorded, is_json = read.file.found.get("recorded", 0), _is_json(read.file)
    codes, problems, place = _codes(read.file), list[ImportProblem](), recorded
    while place < len(read.entries):
        with transaction.atomic():
            seconds = LOOK_SECONDS if is_json else PART_SECONDS
            place, _made, found = _part(read, place, codes, seconds)
            transaction.set_rollback(True)
        problems += found
        if is_json and place < len(read.entries):
            said = say(
                "This file is too long to be looked through at once: split it before this entry."
            )
            broken = Problem("import-too-long", said)
            problems.append(problem_in(broken, read.entries[place], is_json))
            break
        _pause(read.file, place, len(read.entries))
    problems = _with_unread(read, problems)
    if not problems:
        lots = _lots(read, 0, len(read.entries), codes)
        kept = {"entries": len(read.entries), "lots": lots, "recorded": recorded}
        files = ImportFile.objects.filter(pk=read.file.pk, state=ImportFile.LOOKING)
        files.update(state=ImportFile.LOOKED, found=kept, done_share=1.0)
    return problems


def _taken(read: _Read) -> list[ImportProblem]:
    """Record a file part by part, going on after what is recorded; return what is against it."""
    if read.unread:
        return read.unread
    files = ImportFile.objects.select_for_update().filter(pk=read.file.pk, state=ImportFile.TAKING)
    entries, last = read.entries, False
    while not last:
        with transaction.atomic():
            file = files.first()
            if file is None:
                return []
            start, codes = file.found.get("recorded", 0), _codes(file)
            place, made, problems = _part(read, start, codes, PART_SECONDS)
            last = place >= len(entries)
            if problems:
                transaction.set_rollback(True)
                return problems
            lots = _lots(read, 0, len(entries), codes | made)
            file.found = {"entries": len(entries), "lots": lots, "recorded": place}
            file.done_share = place / max(len(entries), 1)
            if last:
                file.state, file.taken_at = ImportFile.TAKEN, timezone.now()
            file.save(update_fields=["found", "done_share", "state", "taken_at"])
        _pause(read.file, place, len(entries))
    return []


def _part(
    read: _Read, start: int, codes: dict[str, str], seconds: float
) -> tuple[int, dict[str, str], list[ImportProblem]]:
    """Record entries until the time is over, one at least.

    Return the place after the last one, the codes of the lots made, and what is against them.
    """
    loaded, problems = Loaded(read.actor, False, dict(codes)), list[ImportProblem]()
    until, place, is_json = time.monotonic() + seconds, start, _is_json(read.file)
    for one in read.entries[start:]:
        try:
            entry_record(loaded, one)
        except Refused as refused:
            problems += [problem_in(problem, one, is_json) for problem in refused.problems]
        except KeyError as missing:
            said = say("It needs “{lot}”, whose entry is refused.", lot=missing.args[0])
            problems.append(problem_in(Problem("lot-refused", said), one, is_json))
        place += 1
        if time.monotonic() > until:
            break
    made = {name: code for name, code in loaded.codes.items() if name not in codes}
    return place, made, problems


def _pause(file: ImportFile, place: int, most: int) -> None:
    """Tell how far it is, and let others write before the next part."""
    if place < most:
        ImportFile.objects.filter(pk=file.pk).update(done_share=place / most)
        time.sleep(PAUSE_SECONDS)


def _codes(file: ImportFile) -> dict[str, str]:
    """Map the file's names of the lots that are recorded to their codes."""
    return {lot[0]: lot[1] for lot in file.found.get("lots", ()) if lot[1]}


def _lots(read: _Read, start: int, end: int, codes: dict[str, str]) -> list[tuple[Any, ...]]:
    is_json = _is_json(read.file)
    return [lot for one in read.entries[start:end] for lot in lots_in(one, codes, is_json)]


def _with_unread(read: _Read, problems: list[ImportProblem]) -> list[ImportProblem]:
    """Put what could not be read before what could not be recorded, row by row."""
    if not _is_json(read.file):
        column = column_of(read.file.text)
        problems = [replace(one, pointer=column(one.pointer)) for one in problems]
    known = {(one.row, one.pointer) for one in read.unread}
    more = [one for one in problems if (one.row, one.pointer) not in known]
    return sorted([*read.unread, *more], key=lambda one: one.row)


def _fail(file: ImportFile, problems: list[ImportProblem]) -> None:
    """Keep what stands against a file, and how much of it is recorded nevertheless."""
    with transaction.atomic():
        now = ImportFile.objects.select_for_update().filter(pk=file.pk, state=file.state).first()
        if now is None:
            return
        recorded, entries = now.found.get("recorded", 0), now.found.get("entries", 0)
        if recorded:
            problems = [_in_part(recorded, entries), *problems]
        now.found = {
            "entries": entries,
            "lots": [lot for lot in now.found.get("lots", ()) if lot[1]],
            "recorded": recorded,
            "problems": [kept_of(one) for one in problems[:MOST_PROBLEMS]],
            "more_problems": max(len(problems) - MOST_PROBLEMS, 0),
        }
        now.state, now.done_share = ImportFile.FAILED, 1.0
        now.save(update_fields=["found", "state", "done_share"])


def _in_part(recorded: int, entries: int) -> ImportProblem:
    said = say(
        "{recorded} of {entries} entries are in the book. Mend what stands against the rest,"
        " and bring the same file again: it goes on there.",
        recorded=recorded,
        entries=entries,
    )
    return problem_in(Problem("import-in-part", said), None, False)
