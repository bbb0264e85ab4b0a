"""Look files of entries through and take them in parts; take a whole import back.

A file is read outside any transaction. What is recorded of it holds the writers of every book up
on SQLite, so that it goes in parts of about a second, each of them all or nothing; a short file
is one part. What of a file was recorded is kept with the part, and the next try goes on there.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from uuid import UUID

import structlog
from celery import shared_task
from django.db import InterfaceError, OperationalError, transaction

from recycling.keeping.background import job_done, job_waiting, refuse_spent, worked
from recycling.models import ImportFile, Job
from recycling.queries.people.members import actor_behind
from recycling.records.actors import Actor
from recycling.records.lists import ImportProblem
from recycling.services.lists import LOOK, TAKE, UNDO, import_undo_part
from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists import entries, parts, rows
from recycling.tasks.lists.found import MOST_PROBLEMS, kept_of, problem_in
from shared.errors import Problem, Refused, Unavailable
from shared.said import say

BROKE = say("Something broke on our side; nothing was recorded. Send the file again.")
READ_SECONDS = 60
"""How long a file may be read."""
log = structlog.get_logger("recycling.imports")


@shared_task(name=LOOK)
@worked
def import_look(job_id: int) -> None:
    _work(job_id, ImportFile.LOOKING, _looked)


@shared_task(name=TAKE)
@worked
def import_write(job_id: int) -> None:
    _work(job_id, ImportFile.TAKING, _taken)


@shared_task(name=UNDO)
@worked
def import_take_back(job_id: int) -> None:
    _work(job_id, ImportFile.UNDOING, _undone)


def _work(job_id: int, doing: str, work: Callable[[ImportFile, Job], list[ImportProblem]]) -> None:
    """Do one thing with a file; whatever breaks, whoever waits is told."""
    job = job_waiting(job_id)
    if job is None:
        return
    files = ImportFile.objects.select_related("workshop")
    file = files.filter(pk=job.arguments["file"], state=doing).first()
    if file is not None:
        try:
            refuse_spent(job)
            problems = work(file, job)
        except (OperationalError, InterfaceError, Unavailable):
            raise
        except Refused as refused:
            problems = [problem_in(one, None) for one in refused.problems]
        except Exception as error:
            log.exception("file of entries broke", number=file.number, error=repr(error))
            problems = [problem_in(Problem("import-broke", BROKE), None)]
        if problems:
            _fail(file, problems)
    job_done(job)


def _looked(file: ImportFile, _job: Job) -> list[ImportProblem]:
    if is_json(file):
        return entries.look(_read(file))
    _actor(file)
    rows.look(file, _clock())
    return []


def _taken(file: ImportFile, _job: Job) -> list[ImportProblem]:
    return entries.take(_read(file)) if is_json(file) else rows.take(file, _actor(file))


def _undone(file: ImportFile, job: Job) -> list[ImportProblem]:
    """Take an import back part by part; where one is refused, what is left of it is said."""
    actor, left = _actor(file, job.arguments["by"]), True
    while left:
        left, share = import_undo_part(actor, file.number, job.arguments["reason"])
        if left:
            parts.pause(file, share)
    return []


def is_json(file: ImportFile) -> bool:
    """Whether a file holds entries in JSON."""
    return bytes(file.data[:64]).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{")


def _read(file: ImportFile) -> entries.ReadEntries:
    """Read entries in JSON, outside any transaction; raises Refused when they cannot be."""
    text = bytes(file.data).decode("utf-8-sig", "strict")
    read = read_entries(text, _clock())
    return entries.ReadEntries(file, _actor(file), read)


def _clock() -> Callable[[], None]:
    """Give what refuses to go on reading once its time is over."""
    until = time.monotonic() + READ_SECONDS

    def tick() -> None:
        if time.monotonic() > until:
            said = say("Reading it takes more than {most} s; split the file.", most=READ_SECONDS)
            raise Refused.because("import-too-long", said)

    return tick


def _actor(file: ImportFile, by: str = "") -> Actor:
    """Find who does it; raises Refused where they are no member any more."""
    reference = file.taken_by if file.state == ImportFile.TAKING else file.brought_by
    reference = UUID(by) if by else reference
    actor = actor_behind(file.workshop_id, reference) if reference else None
    if actor is None:
        said = say("Whoever brought this file is no member any more.")
        raise Refused.because("member-gone", said)
    return actor


def _fail(file: ImportFile, problems: list[ImportProblem]) -> None:
    """Keep what stands against a file, and how much of it is recorded nevertheless."""
    with transaction.atomic():
        files = ImportFile.objects.select_for_update().defer("data")
        now = files.filter(pk=file.pk, state=file.state).first()
        if now is None:
            return
        found = now.found
        recorded, count = found.get("recorded", 0), found.get("counts", {}).get("new", 0)
        count = count or found.get("entries", 0)
        if recorded:
            problems = [_in_part(recorded, count), *problems]
        now.found = {
            **{name: found[name] for name in KEPT if name in found},
            "lots": [lot for lot in found.get("lots", ()) if lot[1]],
            "recorded": recorded,
            "problems": [kept_of(one) for one in problems[:MOST_PROBLEMS]],
            "more_problems": max(len(problems) - MOST_PROBLEMS, 0),
        }
        now.state, now.done_share = ImportFile.FAILED, 1.0
        now.save(update_fields=["found", "state", "done_share"])


KEPT = ("entries", "counts", "told", "columns")
"""What stays known of a file that failed."""


def _in_part(recorded: int, entries: int) -> ImportProblem:
    said = say(
        "{recorded} of {entries} entries are in the book. Mend what stands against the rest,"
        " and bring the same file again: it goes on there. Or take all of it back.",
        recorded=recorded,
        entries=entries,
    )
    return problem_in(Problem("import-in-part", said), None)
