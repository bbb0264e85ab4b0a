"""The table in a sheet: its heads, its columns, and the rows that are entries or left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Cell, Clock, Row, Sheet, Unread, filled, shown
from recycling.tables.lists.folded import folded
from recycling.tables.lists.heads import Column, field_of
from recycling.tables.lists.known import Known, signature
from recycling.tables.lists.words import (
    AMOUNT,
    AT,
    DITTOS,
    EXAMPLES,
    GROSS,
    LINE,
    MASS,
    SOURCE,
    TARE,
    TOTALS,
    UNIT_WORDS,
)
from shared.said import say

LOOKED_AT, LEAST_HEADS = 40, 2
MASSES = (MASS, GROSS, TARE)
TITLE, BLANK, UNITS, TOTAL, HEADS, EXAMPLE = "title", "blank", "unit", "total", "heads", "example"


@dataclass(frozen=True)
class Table:
    """A table: where its heads stand, its columns, and all rows below them."""

    sheet: Sheet
    head: Row
    columns: tuple[Column, ...]
    rows: Sequence[Row]

    @property
    def signature(self) -> str:
        """Its heads, folded."""
        return signature(shown(cell) for cell in self.head.cells)

    def of(self, *fields: str) -> list[Column]:
        """List the columns of these fields."""
        return [one for one in self.columns if one.field in fields]

    def with_field(self, place: int, named: str) -> Table:
        """Say what a column is."""
        return replace(
            self,
            columns=tuple(
                replace(one, field=named) if one.place == place else one for one in self.columns
            ),
        )


class Line(NamedTuple):
    """A row that is an entry: its number, its cells by place, and values carried from above."""

    number: int
    cells: Sequence[Cell]
    above: Mapping[str, Cell]

    def at(self, place: int) -> Cell:
        """What stands in a column; an empty text where the row is shorter."""
        cell = self.cells[place] if place < len(self.cells) else ""
        return cell if filled(cell) else ""


@dataclass
class Totals:
    """A row of totals: its number, and what it says in each column of masses."""

    number: int
    since: int
    masses: dict[int, Cell] = field(default_factory=dict)


def table_in(sheet: Sheet, known: Known) -> Table | None:
    """Find the table of a sheet: the first row with the most heads known, a mass among them.

    Without a mass, a row with two heads is one: then it is asked which column has the mass.
    """
    best: tuple[tuple[bool, bool, int], Row] | None = None
    for row in sheet.rows[:LOOKED_AT]:
        cells = [shown(cell) for cell in row.cells]
        fields = {field_of(cell)[0] for cell in cells if cell and not cell[0].isdigit()} - {""}
        remembered = any(cells) and bool(known.answers) and signature(cells) in known.answers
        if len(fields - {LINE}) < LEAST_HEADS and not remembered:
            continue
        grade = (remembered, bool(fields & {MASS, GROSS, AMOUNT}), len(fields))
        if best is None or grade > best[0]:
            best = (grade, row)
    if best is None:
        return None
    head = best[1]
    below = [row for row in sheet.rows if row.number > head.number]
    return _with_units(Table(sheet, head, _columns(head), below))


def _columns(head: Row) -> tuple[Column, ...]:
    return tuple(
        Column(place, shown(cell).strip(), *field_of(shown(cell)))
        for place, cell in enumerate(head.cells)
    )


def _with_units(table: Table) -> Table:
    """Read the row of units below the heads, where there is one."""
    first = next((row for row in table.rows if any(map(filled, row.cells))), None)
    if first is None or not _is_units(first):
        return table
    units = {
        place: UNIT_WORDS.get(folded(cell), "")
        for place, cell in enumerate(first.cells)
        if isinstance(cell, str)
    }
    columns = tuple(
        replace(one, unit=one.unit or units.get(one.place, "")) for one in table.columns
    )
    return replace(table, columns=columns)


def _is_units(row: Row) -> bool:
    said = [folded(cell) for cell in row.cells if isinstance(cell, str) and filled(cell)]
    known = [word for word in said if word in UNIT_WORDS]
    plain = all(len(word) <= 12 and not any(map(str.isdigit, word)) for word in said)
    return (
        bool(known)
        and plain
        and len(said) == sum(map(filled, row.cells))
        and (len(known) == len(said))
    )


def lines_of(table: Table, asking: Asking) -> tuple[list[Line], list[Totals]]:
    """Part the rows below the heads into entries and what is left out, which is noted with why."""
    heads = [folded(shown(cell)) for cell in table.head.cells]
    places = {one.field: one.place for one in reversed(table.columns) if one.field}
    lines, totals, above = list[Line](), list[Totals](), dict[str, Cell]()
    for row in table.sheet.rows:
        if row.number < table.head.number:
            asking.skipped[row.number] = TITLE if any(map(filled, row.cells)) else BLANK
    for row in table.rows:
        why = _left_out(row, table, heads, places)
        if why:
            asking.skipped[row.number] = why
            if why == TITLE:
                above = _carried_by_title(row, table)
            if why == TOTAL:
                totals.append(_totals(row, table, len(lines)))
            continue
        line = Line(row.number, row.cells, dict(above))
        lines.append(line)
        for named, place in places.items():
            cell = line.at(place)
            if cell and not is_ditto(cell):
                above[named] = cell
        _check_width(row, table, asking)
    return lines, totals


def is_ditto(cell: Cell) -> bool:
    """Whether a cell says: as above."""
    return isinstance(cell, str) and cell.strip().casefold() in DITTOS


def _left_out(row: Row, table: Table, heads: Sequence[str], places: Mapping[str, int]) -> str:
    """Say why a row is no entry; empty where it is one."""
    full = [place for place, cell in enumerate(row.cells) if filled(cell)]
    if not full:
        return BLANK
    said = [folded(shown(row.cells[place])) for place in full]
    if [folded(shown(cell)) for cell in row.cells[: len(heads)]] == list(heads):
        return HEADS
    if any(word.split()[:1] and word.split()[0] in EXAMPLES for word in said):
        return EXAMPLE
    if _is_units(row):
        return UNITS
    if _is_total(row, said, table, places):
        return TOTAL
    masses = {one.place for one in table.of(*MASSES, AMOUNT)}
    if not masses & set(full) and len(full) == 1 and not isinstance(row.cells[full[0]], Unread):
        return TITLE
    return ""


def _is_total(row: Row, said: Sequence[str], table: Table, places: Mapping[str, int]) -> bool:
    """Whether a word of totals stands first, and no day in the column of days."""
    first = next((word for word in said if not word[:1].isdigit()), "")
    words = first.split()
    known = first in TOTALS or any(
        " ".join(words[:count]) in TOTALS for count in range(1, min(len(words), 3) + 1)
    )
    if not known:
        return False
    day = row.cells[places[AT]] if AT in places and places[AT] < len(row.cells) else ""
    if isinstance(day, Clock) or (isinstance(day, str) and any(map(str.isdigit, day))):
        return False
    giver = (
        row.cells[places[SOURCE]] if SOURCE in places and places[SOURCE] < len(row.cells) else ""
    )
    return first in TOTALS or not filled(giver) or folded(shown(giver)) == first


def _totals(row: Row, table: Table, since: int) -> Totals:
    masses = {
        one.place: row.cells[one.place]
        for one in table.of(*MASSES)
        if one.place < len(row.cells) and filled(row.cells[one.place])
    }
    return Totals(row.number, since, masses)


def _carried_by_title(row: Row, table: Table) -> dict[str, Cell]:
    """A row of one cell starts a part: nothing from before it is meant below, but what it says."""
    return {
        one.field: row.cells[one.place]
        for one in table.columns
        if one.field and one.place < len(row.cells) and filled(row.cells[one.place])
    }


def _check_width(row: Row, table: Table, asking: Asking) -> None:
    if not table.sheet.parted:
        return
    if any(filled(cell) for cell in row.cells[len(table.head.cells) :]):
        asking.wrong("row-too-long", say("More cells than columns."), row.number)


def hidden_asked(table: Table, asking: Asking) -> Table | None:
    """Ask whether hidden rows are meant; None while it is not said."""
    hidden = [row for row in table.rows if row.hidden and any(map(filled, row.cells))]
    if not hidden:
        return table
    answer = asking.ask(
        "hidden",
        "hidden",
        say("{count} rows are hidden in this sheet. Are they meant?", count=len(hidden)),
        [Choice("leave", say("Leave them out")), Choice("take", say("Take them too"))],
        hidden[0].number,
    )
    if answer is None:
        return None
    if answer == "take":
        return table
    for row in hidden:
        asking.skipped[row.number] = "hidden"
    return replace(table, rows=[row for row in table.rows if not row.hidden])


def check_merged(table: Table, asking: Asking) -> None:
    """Name cells merged across columns of the table; those down a column are read as filled."""
    skipped = asking.skipped
    for row, column, _rows, columns in table.sheet.merged:
        if row <= table.head.number or columns < 2 or row in skipped:
            continue
        if any(one.place == column - 1 for one in table.columns):
            head = next(one.head for one in table.columns if one.place == column - 1)
            said = say("Cells are merged here: part them, and fill in each.")
            asking.wrong("cells-merged", said, row, head)


def check_unread(line: Line, column: Column, asking: Asking) -> bool:
    """Name a cell that the spreadsheet cannot say; whether there is one."""
    cell = line.at(column.place)
    if not isinstance(cell, Unread):
        return False
    said = (
        say("The result of this formula was not stored: open, save and bring it again.")
        if cell.code == "formula-without-value"
        else say("This cell holds an error: put a value there.")
    )
    asking.wrong(cell.code, said, line.number, column.head)
    return True


def example_of(table: Table, place: int) -> str:
    """Show the first values of a column."""
    values = [
        shown(row.cells[place])
        for row in table.rows[:LOOKED_AT]
        if place < len(row.cells) and filled(row.cells[place])
    ]
    return ", ".join(value[:40] for value in values[:3])
