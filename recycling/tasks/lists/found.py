"""What is kept of a file of entries: the lots that it makes, and what stands against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from recycling.records.lists import ImportProblem
from recycling.records.lots.mass_entries import OutputEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.tables.lists.entries_file import FileEntry
from shared.errors import Problem
from shared.said import Said

MOST_PROBLEMS = 100


def lots_in(one: FileEntry, codes: dict[str, str], is_json: bool) -> Iterator[tuple[Any, ...]]:
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


def problem_in(problem: Problem, entry: FileEntry | None, is_json: bool) -> ImportProblem:
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


def kept_of(problem: ImportProblem) -> dict[str, Any]:
    """Keep a problem with the pattern and the values of its words, where they can be kept."""
    kept, said = asdict(problem), problem.detail
    if isinstance(said, Said) and all(
        isinstance(v, str | int | float) for v in said.values.values()
    ):
        kept["said"] = (said.pattern, said.values)
    return kept
