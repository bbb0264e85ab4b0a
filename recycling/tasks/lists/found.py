"""What is kept of a file of entries: the lots that it makes, questions, what stands against it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from recycling.records.lists import ImportProblem
from recycling.records.lots.mass_entries import OutputEntry
from recycling.records.lots.origin_entries import ORIGINS, BagEntry, OriginEntry
from recycling.tables.lists.asking import Question
from recycling.tables.lists.entries_file import FileEntry
from recycling.tables.lists.fates import ListRow
from shared.errors import Problem
from shared.said import Said, kept

MOST_PROBLEMS, MOST_GIVERS, MOST_CHOICES = 100, 5, 60


def lots_in(one: FileEntry, codes: dict[str, str]) -> Iterator[tuple[Any, ...]]:
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
        yield (name, codes.get(name, ""), one.place + 1, kind, at.isoformat(), giver, *what)


def told_of_lots(lots: Iterable[tuple[Any, ...]]) -> dict[str, Any]:
    """Sum up the lots that entries in JSON make: of those that come in their mass and givers."""
    every = list(lots)
    came = [lot for lot in every if lot[3] in ORIGINS]
    times = [datetime.fromisoformat(lot[4]) for lot in every]
    return _told(sum(lot[9] for lot in came), [lot[5] for lot in came], times)


def told_of_rows(rows: Iterable[ListRow]) -> dict[str, Any]:
    """Sum up the rows of a list that are new."""
    every = list(rows)
    givers = [row.source or row.supplier for row in every]
    return _told(sum(row.mass_mg for row in every), givers, [row.at for row in every])


def _told(mass_mg: int, givers: Iterable[str], times: Sequence[datetime]) -> dict[str, Any]:
    named = list(dict.fromkeys(giver for giver in givers if giver))
    told: dict[str, Any] = {"mass_mg": mass_mg, "givers_count": len(named)}
    told["givers"] = named[:MOST_GIVERS]
    if times:
        told |= {"first_at": min(times).isoformat(), "last_at": max(times).isoformat()}
    return told


def question_kept(question: Question) -> dict[str, Any]:
    """Keep a question with the pattern and the values of its words."""
    choices = [
        {"key": one.key, "label": kept(one.label), "example": kept(one.example)}
        for one in list(question.choices)[:MOST_CHOICES]
    ]
    return {
        "key": question.key,
        "about": question.about,
        "row": question.row,
        "column": question.column,
        "detail": kept(question.detail),
        "choices": choices,
    }


def problem_in(problem: Problem, entry: FileEntry | None) -> ImportProblem:
    """Say which row or entry is meant: from the pointer, or from the entry that was recorded."""
    parts = problem.pointer.strip("/").split("/")
    if entry is None:
        is_entry = parts[0] == "entries"
        parts = parts[1:] if is_entry else parts
        number = int(parts[0]) if parts and parts[0].isdigit() else 0
        row = number + is_entry if parts and parts[0].isdigit() else 0
        return ImportProblem(row, "/".join(parts[1:]), problem.code, problem.detail)
    return ImportProblem(entry.place + 1, "/".join(parts), problem.code, problem.detail)


def kept_of(problem: ImportProblem) -> dict[str, Any]:
    """Keep a problem with the pattern and the values of its words, where they can be kept."""
    kept, said = asdict(problem), problem.detail
    if isinstance(said, Said) and all(
        isinstance(v, str | int | float) for v in said.values.values()
    ):
        kept["said"] = (said.pattern, said.values)
    return kept
