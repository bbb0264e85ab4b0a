"""Files of entries in JSON, which may need each other: looked through at once, taken in parts."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from recycling.models import ImportFile
from recycling.records.actors import Actor
from recycling.records.lists import ImportProblem
from recycling.tables.lists.entries_file import FileEntry
from recycling.tasks.lists import parts
from recycling.tasks.lists.found import lots_in, problem_in, told_of_lots
from recycling.tasks.lists.load import Loaded, entry_record
from shared.errors import Problem, Refused
from shared.said import say

LOOK_SECONDS = 1.5
"""How long entries that need each other may be looked through at once."""


@dataclass(frozen=True)
class ReadEntries:
    """A file that was read: by whom it is recorded, and what is in it."""

    file: ImportFile
    actor: Actor
    entries: list[FileEntry]


def look(read: ReadEntries) -> list[ImportProblem]:
    """Record all of a file that is not recorded yet, and undo it; return what is against it.

    Entries need each other, so that they are looked through at once: that bounds how many.
    """
    recorded, codes = read.file.found.get("recorded", 0), _codes(read.file)
    with transaction.atomic():
        place, _made, problems = _part(read, recorded, codes, LOOK_SECONDS)
        transaction.set_rollback(True)
    if place < len(read.entries):
        said = say(
            "This file is too long to be looked through at once: split it before this entry."
        )
        problems.append(problem_in(Problem("import-too-long", said), read.entries[place]))
    if not problems:
        files = ImportFile.objects.filter(pk=read.file.pk, state=ImportFile.LOOKING)
        kept = _kept(read, codes, recorded)
        files.update(state=ImportFile.LOOKED, found=kept, done_share=1.0)
    return problems


def take(read: ReadEntries) -> list[ImportProblem]:
    """Record a file part by part, going on after what is recorded; return what is against it."""
    files = ImportFile.objects.select_for_update().filter(pk=read.file.pk, state=ImportFile.TAKING)
    entries, last = read.entries, False
    while not last:
        with transaction.atomic():
            file = files.first()
            if file is None:
                return []
            start, codes = file.found.get("recorded", 0), _codes(file)
            place, made, problems = _part(read, start, codes, parts.PART_SECONDS)
            last = place >= len(entries)
            if problems:
                transaction.set_rollback(True)
                return problems
            file.found = _kept(read, codes | made, place)
            file.done_share = place / max(len(entries), 1)
            if last:
                file.state, file.taken_at = ImportFile.TAKEN, timezone.now()
            file.save(update_fields=["found", "done_share", "state", "taken_at"])
        if not last:
            parts.pause(read.file, place / len(entries))
    return []


def _part(
    read: ReadEntries, start: int, codes: dict[str, str], seconds: float
) -> tuple[int, dict[str, str], list[ImportProblem]]:
    """Record entries until the time is over, one at least.

    Return the place after the last one, the codes of the lots made, and what is against them.
    """
    loaded, problems = Loaded(read.actor, False, dict(codes)), list[ImportProblem]()
    until, place = time.monotonic() + seconds, start
    for one in read.entries[start:]:
        try:
            entry_record(loaded, one)
        except Refused as refused:
            problems += [problem_in(problem, one) for problem in refused.problems]
        except KeyError as missing:
            said = say("It needs “{lot}”, whose entry is refused.", lot=missing.args[0])
            problems.append(problem_in(Problem("lot-refused", said), one))
        place += 1
        if time.monotonic() > until:
            break
    made = {name: code for name, code in loaded.codes.items() if name not in codes}
    return place, made, problems


def _codes(file: ImportFile) -> dict[str, str]:
    """Map the file's names of the lots that are recorded to their codes."""
    return {lot[0]: lot[1] for lot in file.found.get("lots", ()) if lot[1]}


def _kept(read: ReadEntries, codes: dict[str, str], recorded: int) -> dict[str, Any]:
    lots = [lot for one in read.entries for lot in lots_in(one, codes)]
    return {
        "entries": len(read.entries),
        "lots": lots,
        "told": told_of_lots(lots),
        "recorded": recorded,
    }
