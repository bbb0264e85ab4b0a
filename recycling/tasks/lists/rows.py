"""A list: looked through without writing anything, taken in parts, each all or nothing."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Max, Q
from django.utils import timezone

from recycling.keeping.lists import answers_keep
from recycling.ledger.post import lock_book
from recycling.models import ImportFile, ImportLine, Lot, Run
from recycling.queries.lists import known_for_lists, lots_of_days
from recycling.records.actors import Actor
from recycling.records.lists import ImportProblem
from recycling.records.setup.entries import SourceEntry
from recycling.services.lots.origin_record import origin_record
from recycling.services.setup.register import source_add
from recycling.tables.lists.asking import Asking
from recycling.tables.lists.cells import Sheet
from recycling.tables.lists.entries import again, check_rows, grouped, kept
from recycling.tables.lists.fates import Fates, ListRow, fates_of
from recycling.tables.lists.known import Known
from recycling.tables.lists.reading import ReadList, read_sheets, sheets_of_text
from recycling.tables.lists.spreadsheets import STARTS, spreadsheet_sheets
from recycling.tasks.lists import parts
from recycling.tasks.lists.found import (
    MOST_PROBLEMS,
    kept_of,
    problem_in,
    question_kept,
    told_of_rows,
)
from shared.errors import Conflict, Problem, Refused
from shared.said import say

WRITTEN_AT_ONCE, READ_AT_ONCE = 1_000, 2_000
MOST_SKIPPED = 1_000
MEANWHILE = say(
    "Rows of this list came into the book since it was looked through: bring it again, and they"
    " are known."
)


@dataclass(frozen=True)
class Looked:
    """What was found in a list: what was read, and the fate of each row where it is known."""

    read: ReadList
    fates: Fates | None
    watermark: int


def look(file: ImportFile, tick: Callable[[], None]) -> None:
    """Read a list and say what becomes of each row; nothing but that is written.

    Raises
    ------
    Refused
        When it cannot be read at all.
    """
    asking = Asking(answers=file.answers)
    known = known_for_lists(file.workshop)
    sheets = _sheets(bytes(file.data), known, asking, tick)
    if sheets is None:
        read = ReadList((), (), "", asking)
    else:
        read = read_sheets(sheets, known, asking, tick)
    check_rows(read.rows, read.columns, asking)
    looked = _with_fates(file, read, asking)
    if looked.fates is not None:
        _keep_lines(file, looked)
    _keep_found(file, looked, known)


def _sheets(
    data: bytes, known: Known, asking: Asking, tick: Callable[[], None]
) -> list[Sheet] | None:
    if data.startswith(STARTS):
        return spreadsheet_sheets(data)
    return sheets_of_text(data, known, asking, tick)


def _with_fates(file: ImportFile, read: ReadList, asking: Asking) -> Looked:
    """Part the rows into known and new, once nothing is asked and nothing wrong."""
    if asking.questions or asking.found.any or not (read.rows or asking.skipped):
        return Looked(read, None, 0)
    last = Lot.objects.filter(workshop_id=file.workshop_id).aggregate(last=Max("pk"))["last"]
    if not read.rows:
        return Looked(read, Fates((), {}), last or 0)
    days = [row.day for row in read.rows]
    book = lots_of_days(file.workshop, min(days), max(days))
    return Looked(read, fates_of(read.rows, book, asking), last or 0)


def _keep_lines(file: ImportFile, looked: Looked) -> None:
    """Keep each row with its fate; rows that are recorded from this file stay as they are."""
    assert looked.fates is not None
    stale = Q(lot=None) | ~Q(fate=ImportLine.NEW) | Q(lot__made_by__state=Run.VOID)
    recorded = set(file.lines.exclude(stale).values_list("number", flat=True))
    _delete(file, stale)
    lots = dict(
        Lot.objects.filter(
            workshop_id=file.workshop_id, code__in=set(looked.fates.known.values())
        ).values_list("code", "pk")
        if len(looked.fates.known) < 500
        else Lot.objects.filter(workshop_id=file.workshop_id).values_list("code", "pk")
    )
    lines = (line for line in _lines(file, looked, lots) if line.number not in recorded)
    for chunk in _chunks(lines, WRITTEN_AT_ONCE):
        with transaction.atomic():
            ImportLine.objects.bulk_create(chunk)


def _delete(file: ImportFile, stale: Q) -> None:
    while True:
        some = list(file.lines.filter(stale).values_list("pk", flat=True)[:WRITTEN_AT_ONCE])
        if not some:
            return
        with transaction.atomic():
            ImportLine.objects.filter(pk__in=some).delete()


def _lines(file: ImportFile, looked: Looked, lots: dict[str, int]) -> Iterator[ImportLine]:
    assert looked.fates is not None
    asking, known = looked.read.asking, looked.fates.known
    seen = set[int]()
    for row in looked.fates.new:
        seen.add(row.number)
        yield _line(file, row, ImportLine.NEW)
    for row in looked.read.rows:
        if row.number in known:
            seen.add(row.number)
            yield _line(file, row, ImportLine.KNOWN, lot_id=lots.get(known[row.number]))
    read = {row.number: row for row in looked.read.rows}
    for number, why in asking.skipped.items():
        if number not in seen:
            left = read.get(number)
            if left is not None:
                yield _line(file, left, ImportLine.LEFT, why)
            else:
                yield ImportLine(file=file, number=number, fate=ImportLine.LEFT, why=why)


def _line(
    file: ImportFile, row: ListRow, fate: str, why: str = "", lot_id: int | None = None
) -> ImportLine:
    return ImportLine(
        file=file, number=row.number, fate=fate, why=why, day=row.day, said=kept(row), lot_id=lot_id
    )


def _chunks(lines: Iterable[ImportLine], size: int) -> Iterator[list[ImportLine]]:
    chunk: list[ImportLine] = []
    for line in lines:
        chunk.append(line)
        if len(chunk) == size:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


def _keep_found(file: ImportFile, looked: Looked, known: Known) -> None:
    """Keep what was found, and say by the state what is to be done about it."""
    read, asking, fates = looked.read, looked.read.asking, looked.fates
    problems = [problem_in(one, None) for one in asking.found.problems]
    questions = [question_kept(one) for one in asking.questions.values()]
    new = list(fates.new) if fates else []
    recorded = file.lines.filter(fate=ImportLine.NEW).exclude(lot=None).count() if fates else 0
    wrong = {one.row for one in problems}
    found: dict[str, Any] = {
        "entries": sum(1 for _ in grouped(new)),
        "counts": {
            "new": len(new) + recorded,
            "known": len(fates.known) - recorded if fates else 0,
            "skipped": len(asking.skipped),
            "wrong": len(wrong),
        },
        "recorded": recorded,
        "told": told_of_rows(new),
        "columns": [(one.head, one.field, one.unit) for one in read.columns],
        "new_sources": [name for name in read.new_sources if name not in known.sources],
        "signature": read.signature,
        "answered": asking.answered,
        "watermark": looked.watermark,
        "questions": questions,
        "problems": [kept_of(one) for one in problems[:MOST_PROBLEMS]],
        "more_problems": max(len(problems) - MOST_PROBLEMS, 0),
    }
    if fates is None:
        found["skipped"] = sorted(asking.skipped.items())[:MOST_SKIPPED]
    if problems:
        state = ImportFile.FAILED
    else:
        state = ImportFile.ASKED if questions else ImportFile.LOOKED
    files = ImportFile.objects.filter(pk=file.pk, state=ImportFile.LOOKING)
    files.update(state=state, found=found, done_share=1.0)


def take(file: ImportFile, actor: Actor) -> list[ImportProblem]:
    """Record the new rows of a list part by part, going on after what is recorded.

    Each part is all or nothing. Return what is against it.
    """
    files = ImportFile.objects.select_for_update().defer("data")
    while True:
        with transaction.atomic():
            lock_book(file.workshop_id)
            now = files.filter(pk=file.pk, state=ImportFile.TAKING).first()
            if now is None:
                return []
            try:
                left = _part(now, actor)
            except Refused as refused:
                transaction.set_rollback(True)
                return [problem_in(one, None) for one in refused.problems]
            if not left:
                now.state, now.taken_at = ImportFile.TAKEN, timezone.now()
                answers_keep(now)
            now.save(update_fields=["found", "done_share", "state", "taken_at"])
        if not left:
            return []
        parts.pause(file, now.done_share)


def _part(file: ImportFile, actor: Actor) -> bool:
    """Record rows until the time is over; whether any are left."""
    until = time.monotonic() + parts.PART_SECONDS
    found = file.found
    if not found["recorded"]:
        for name in found["new_sources"]:
            source_add(actor, SourceEntry(name))
    waiting = file.lines.filter(fate=ImportLine.NEW, lot=None).order_by("number")
    lines = {line.number: line for line in waiting[:READ_AT_ONCE]}
    rows = [again(line.said) for line in lines.values()]
    _refuse_known_since(file, rows)
    done, codes = list[ImportLine](), list[str]()
    for entry, together in grouped(rows):
        try:
            recorded = origin_record(actor, entry)
        except Refused as refused:
            raise _placed(refused, together) from refused
        done += [lines[row.number] for row in together]
        codes += [lot.code for lot in recorded.lots]
        if time.monotonic() > until:
            break
    lots = Lot.objects.filter(workshop_id=file.workshop_id, code__in=codes)
    keys = dict(lots.values_list("code", "pk"))
    for line, code in zip(done, codes, strict=True):
        line.lot_id = keys[code]
    ImportLine.objects.bulk_update(done, ["lot"], batch_size=500)
    found["recorded"] += len(done)
    found["watermark"] = max([found["watermark"], *keys.values()])
    file.done_share = found["recorded"] / max(found["counts"]["new"], 1)
    return len(done) < len(lines) or len(lines) == READ_AT_ONCE


def _refuse_known_since(file: ImportFile, rows: Sequence[ListRow]) -> None:
    """Refuse where a row came into the book by another way since the list was looked through."""
    if not rows:
        return
    days = [row.day for row in rows]
    since = lots_of_days(file.workshop, min(days), max(days), file.found["watermark"])
    prints = {lot.print for lot in since}
    if any(row.print in prints for row in rows):
        raise Conflict.because("import-known-since", MEANWHILE)


def _placed(refused: Refused, rows: Sequence[ListRow]) -> Refused:
    """Say of a refusal which row it is about."""
    placed = []
    for problem in refused.problems:
        steps = problem.pointer.strip("/").split("/")
        row = rows[int(steps[1])] if steps[0] == "bags" and len(steps) > 1 else rows[0]
        rest = "/".join(steps[2:] if steps[0] == "bags" else steps)
        placed.append(Problem(problem.code, problem.detail, f"/{row.number}/{rest}"))
    return type(refused)(*placed)
