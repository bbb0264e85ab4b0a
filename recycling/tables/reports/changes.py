"""What a later report says differently from the one whose place it takes, line by line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator
from typing import TypeVar

from recycling.records.balance.covered import BECAUSE
from recycling.records.reports.documents import DAY, TEXT, Cell, Column, Document, Section, Table
from recycling.records.reports.rows import LineChange

ADDED, REMOVED, CHANGED = "added", "removed", "changed"
BARE = Section("", "")

Found = TypeVar("Found")
Line = tuple[str, int]


def changes_between(before: Document, after: Document) -> tuple[LineChange, ...]:
    """List every line that was added, removed or changed, in the order of the later document.

    Sections, tables, facts and columns are the same when their keys are; lines of a table are when
    their words and days are, the n-th of equal ones being the n-th again.
    """
    found: list[LineChange] = []
    for old, new in _paired(before.sections, after.sections, lambda one: one.key):
        found += _of_section(old or BARE, new or BARE, (new or old).title)
    return tuple(found)


def _paired(olds: Iterable[Found], news: Iterable[Found], key) -> Iterator[tuple]:
    """Pair what has the same key; what only was follows what is."""
    had: dict[Hashable, Found] = {key(one): one for one in olds}
    for one in news:
        yield had.pop(key(one), None), one
    for one in had.values():
        yield one, None


def _of_section(old: Section, new: Section, title: str) -> Iterator[LineChange]:
    for was, now in _paired(old.facts, new.facts, lambda one: one.key):
        one = now or was
        column = Column("value", "", one.kind, one.unit)
        yield from _of_cells(
            (title, "", one.title),
            column,
            (None if was is None else was.value, was is None),
            (None if now is None else now.value, now is None),
        )
    for was, now in _paired(old.tables, new.tables, lambda one: one.key):
        yield from _of_table(was, now, title)


def _of_table(old: Table | None, new: Table | None, title: str) -> Iterator[LineChange]:
    table = new or old
    assert table is not None
    for was, now in _paired(_lines(old), _lines(new), lambda one: one[0]):
        label = (now or was)[0][0]
        olds, news = (_by_column(one, of) for one, of in ((was, old), (now, new)))
        columns = {one.key: one for of in (old, new) if of for one in of.columns}
        only_words = all(one.kind in (TEXT, DAY) for one in columns.values())
        for key, column in columns.items():
            if column.kind in (TEXT, DAY) and not only_words:
                continue
            yield from _of_cells(
                (title, table.caption, label),
                column,
                (olds.get(key), was is None),
                (news.get(key), now is None),
            )


def _lines(table: Table | None) -> list[tuple[Line, tuple[Cell, ...]]]:
    """Give the rows of a table, each with its words and which of equal ones it is."""
    if table is None:
        return []
    seen: Counter[str] = Counter()
    lines = []
    for row in [*table.rows, *([table.total] if table.total is not None else [])]:
        words = [
            str(cell)
            for cell, column in zip(row, table.columns, strict=True)
            if column.kind in (TEXT, DAY) and cell is not None and column.key != BECAUSE
        ]
        label = " · ".join(words)
        seen[label] += 1
        lines.append(((label, seen[label]), row))
    return lines


def _by_column(line: tuple[Line, tuple[Cell, ...]] | None, table: Table | None) -> dict[str, Cell]:
    if line is None or table is None:
        return {}
    return {one.key: cell for one, cell in zip(table.columns, line[1], strict=True)}


def _of_cells(
    place: tuple[str, str, str],
    column: Column,
    before: tuple[Cell, bool],
    after: tuple[Cell, bool],
) -> Iterator[LineChange]:
    """Compare two cells, each with whether its line was not there at all."""
    (old, no_old), (new, no_new) = before, after
    if old == new and no_old == no_new:
        return
    if old is None and new is None:
        return
    what = ADDED if no_old else REMOVED if no_new else CHANGED
    yield LineChange(*place, column.title, column.kind, column.unit, old, new, what)
