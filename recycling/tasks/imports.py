"""Look files of entries through by going through all of it and undoing it; take them whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

import structlog
from celery import shared_task
from django.db import InterfaceError, OperationalError, transaction
from django.utils import timezone

from recycling.models import ImportFile, Job
from recycling.queries.members import actor_behind
from recycling.records.actors import Actor
from recycling.records.entries import BagEntry, OriginEntry, OutputEntry
from recycling.records.imports import ImportProblem
from recycling.services.imports import LOOK, TAKE
from recycling.tables.entries_csv import column_of, read_rows
from recycling.tables.entries_file import FileEntry, read_entries
from recycling.tasks.entries_load import Loaded, entry_record
from shared.errors import Problem, Refused, Unavailable
from shared.said import Said, say

MOST_PROBLEMS = 200
BROKE = "Something broke on our side; nothing was recorded. Send the file again."
log = structlog.get_logger("recycling.imports")


@shared_task(name=LOOK)
def import_look(job_id: int) -> None:
    _work(job_id, ImportFile.LOOKING, ImportFile.LOOKED)


@shared_task(name=TAKE)
def import_write(job_id: int) -> None:
    _work(job_id, ImportFile.TAKING, ImportFile.TAKEN)


def _work(job_id: int, doing: str, done: str) -> None:
    """Record all of a file; keep it only when it is taken and nothing stands against it."""
    job = Job.objects.filter(pk=job_id, finished_at=None).first()
    if job is None:
        return
    files = ImportFile.objects.filter(pk=job.arguments["file"], state=doing)
    file = files.first()
    if file is not None:
        files.update(done_share=0.1)
        with transaction.atomic():
            found = _looked(file)
            if found["problems"] or done != ImportFile.TAKEN:
                transaction.set_rollback(True)
            else:
                files.update(state=done, found=found, done_share=1.0, taken_at=timezone.now())
        state = ImportFile.FAILED if found["problems"] else done
        files.update(state=state, found=found, done_share=1.0)
    Job.objects.filter(pk=job.pk).update(finished_at=timezone.now(), done_share=1.0)


def _looked(file: ImportFile) -> dict[str, Any]:
    """Find what is in a file; whatever breaks, whoever waits is told."""
    try:
        with transaction.atomic():
            return _found(file)
    except (OperationalError, InterfaceError, Unavailable):
        raise
    except Exception as error:
        log.exception("file of entries broke", number=file.number, error=repr(error))
        return _said(0, [], [_problem(Problem("import-broke", BROKE), None, False)])


def _found(file: ImportFile) -> dict[str, Any]:
    reference = file.taken_by if file.state == ImportFile.TAKING else file.brought_by
    actor = actor_behind(file.workshop_id, reference) if reference else None
    is_json = file.text.lstrip().startswith("{")
    wrong: tuple[Problem, ...] = ()
    try:
        if is_json:
            entries = read_entries(file.text)
        else:
            entries, wrong = read_rows(file.text, file.workshop.zone)
    except Refused as refused:
        problems = [_problem(one, None, is_json) for one in refused.problems]
        return _said(0, [], problems)
    if actor is None:
        left = Problem("member-gone", "Whoever brought this file is no member any more.")
        return _said(len(entries), [], [_problem(left, None, is_json)])
    codes, problems = _recorded(actor, entries, is_json)
    if not is_json:
        problems = [replace(one, pointer=column_of(one.pointer, file.text)) for one in problems]
    unread = [_problem(one, None, is_json) for one in wrong]
    known = {(one.row, one.pointer) for one in unread}
    more = [one for one in problems if (one.row, one.pointer) not in known]
    problems = sorted([*unread, *more], key=lambda one: one.row)
    taking = file.state == ImportFile.TAKING
    lots = [lot for one in entries for lot in _lots(one, codes if taking else {}, is_json)]
    return _said(len(entries), lots, problems)


def _lots(one: FileEntry, codes: dict[str, str], is_json: bool) -> Iterator[tuple[Any, ...]]:
    """Say of each lot that an entry makes what `ImportedLot` has."""
    entry = one.entry
    at: datetime | None
    made: Sequence[BagEntry | OutputEntry]
    if isinstance(entry, OriginEntry):
        kind, at, giver, made = entry.kind, entry.happened_at, entry.source, entry.bags
        giver, heel = giver or entry.supplier, None
    else:
        kind, at, giver, made = entry.stage, entry.ended_at, "", entry.outputs
        heel = entry.heel
    said = [(lot.form, lot.polymer, lot.colour, lot.mass_mg) for lot in made]
    said += [("heel", heel.polymer, "", heel.mass_mg)] if heel else []
    assert at is not None, "an entry of a file has its time"
    for name, what in zip(one.makes, said, strict=True):
        row = one.place + 1 if is_json else int(name.removeprefix("row "))
        yield (name, codes.get(name, ""), row, kind, at.isoformat(), giver, *what)


def _recorded(
    actor: Actor, entries: list[FileEntry], is_json: bool
) -> tuple[dict[str, str], list[ImportProblem]]:
    loaded, problems = Loaded(actor, False), list[ImportProblem]()
    for one in entries:
        try:
            entry_record(loaded, one)
        except Refused as refused:
            problems += [_problem(problem, one, is_json) for problem in refused.problems]
        except KeyError as missing:
            said = say("It needs “{lot}”, whose entry is refused.", lot=missing.args[0])
            problems.append(_problem(Problem("lot-refused", said), one, is_json))
    return loaded.codes, problems


def _problem(problem: Problem, entry: FileEntry | None, is_json: bool) -> ImportProblem:
    """Say which line or entry is meant: from the pointer, or from the entry that was recorded."""
    parts = problem.pointer.strip("/").split("/")
    if entry is None:
        parts = parts[1:] if is_json and parts[0] == "entries" else parts
        number = int(parts[0]) if parts[0].isdigit() else 0
        return ImportProblem(
            number + is_json if parts[0] else 0, "/".join(parts[1:]), problem.code, problem.detail
        )
    row = entry.place + 1 if is_json else entry.place
    if not is_json and isinstance(entry.entry, OriginEntry) and parts[0] == "bags":
        row = int(entry.makes[int(parts[1])].removeprefix("row ")) if len(parts) > 1 else row
        parts = parts[2:]
    return ImportProblem(row, "/".join(parts), problem.code, problem.detail)


def _said(
    entries: int, lots: list[tuple[Any, ...]], problems: list[ImportProblem]
) -> dict[str, Any]:
    return {
        "entries": entries,
        "lots": lots,
        "problems": [_kept(one) for one in problems[:MOST_PROBLEMS]],
        "more_problems": max(len(problems) - MOST_PROBLEMS, 0),
    }


def _kept(problem: ImportProblem) -> dict[str, Any]:
    """Keep a problem with the pattern and the values of its words, where they can be kept."""
    kept, said = asdict(problem), problem.detail
    if isinstance(said, Said) and all(
        isinstance(v, str | int | float) for v in said.values.values()
    ):
        kept["said"] = (said.pattern, said.values)
    return kept
