"""Which column is what: by its head, else asked once; columns nobody knows are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Row, Sheet, Stored, filled
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.numbers import typed
from recycling.tables.lists.table import Table, example_of, table_in
from recycling.tables.lists.words import (
    AMOUNT,
    AT,
    COUNT,
    FORM,
    GROSS,
    KIND,
    MASS,
    POLYMER,
    SOURCE,
    SUPPLIER,
    TARE,
)
from shared.errors import Refused
from shared.said import say

NONE, ALL = "+none", "+all"
ONCE = (AT, SOURCE, POLYMER, FORM, COUNT, SUPPLIER)
ASKED = {
    AT: say("Which column says when it came in?"),
    MASS: say("Which column has the net mass?"),
    SOURCE: say("Which column says who gave it?"),
    SUPPLIER: say("Which column says who sold it?"),
    POLYMER: say("Which column says what polymer it is?"),
    FORM: say("Which column says what it is?"),
    COUNT: say("Which column has the number of pieces?"),
}


def table_chosen(sheets: Sequence[Sheet], known: Known, asking: Asking) -> Table | None:
    """Find the table of a file; where several sheets have one, ask which.

    Raises
    ------
    Refused
        When no sheet has a row of heads.
    """
    found = [table for one in sheets if (table := table_in(one, known)) and _has_rows(table)]
    seen = [table for table in found if not table.sheet.hidden] or found
    if not seen:
        if not any(any(map(filled, row.cells)) for one in sheets for row in one.rows):
            raise Refused.because("file-empty", "This file is empty. Export it again.", "/text")
        words = say(
            "No row has the heads of a list: a date, who gave it, the mass. Give each"
            " column its head."
        )
        raise Refused.because("heads-missing", words, "/1")
    if len(seen) == 1 and not (seen[0].sheet.hidden and len(sheets) > 1):
        return seen[0]
    choices = [Choice(table.sheet.name, table.sheet.name, _rows_said(table)) for table in seen]
    alike = len({table.signature for table in seen}) == 1 and len(seen) > 1
    if alike:
        choices.append(Choice(ALL, say("All of them, one after the other")))
    words = say("Several sheets hold a list. Which is meant?")
    answer = asking.ask("sheet", "sheet", words, choices)
    if answer == ALL and alike:
        return _joined(seen)
    return next((table for table in seen if table.sheet.name == answer), None)


def _has_rows(table: Table) -> bool:
    return any(map(filled, (cell for row in table.rows for cell in row.cells)))


def _rows_said(table: Table) -> str:
    return say("{count} rows", count=sum(any(map(filled, row.cells)) for row in table.rows))


def _joined(tables: Sequence[Table]) -> Table:
    """Put sheets one after the other; rows of later ones are numbered on."""
    first, rows, offset = tables[0], list(tables[0].rows), 0
    for before, table in zip(tables, tables[1:], strict=False):
        offset += before.sheet.rows[-1].number
        rows += [Row(row.number + offset, row.cells, row.hidden) for row in table.rows]
    return replace(first, rows=rows)


def columns_known(table: Table, asking: Asking) -> Table | None:
    """Say of each column what it is; None while it is asked which.

    A column that is needed and has no head is asked for, among those nobody knows; of two with
    one head, which.
    """
    table = _amounts(table)
    for named in ONCE:
        chosen = _once(table, named, asking)
        if chosen is None:
            return None
        table = chosen
    chosen = _masses(table, asking)
    if chosen is None:
        return None
    table = chosen
    if not table.of(AT):
        return _needed(table, AT, table.columns, asking)
    return table


def _amounts(table: Table) -> Table:
    """An amount with a unit is a mass; without one it is asked, where nothing else has the mass."""
    for one in table.of(AMOUNT):
        united = one.unit or any(_has_unit(row, one) for row in table.rows[:200])
        if united and not table.of(MASS, GROSS):
            table = table.with_field(one.place, MASS)
    return table


def _has_unit(row: Row, column: Column) -> bool:
    cell = row.cells[column.place] if column.place < len(row.cells) else ""
    if isinstance(cell, Stored):
        return bool(cell.unit)
    said = typed(cell) if isinstance(cell, str) else None
    return bool(said and said.unit)


def _once(table: Table, named: str, asking: Asking) -> Table | None:
    several = table.of(named)
    if len(several) < 2:
        return table
    full = [one for one in several if _filled_in(table, one)]
    if len(full) == 1:
        return _only(table, named, full[0].place)
    return _asked_which(table, named, several, asking)


def _filled_in(table: Table, column: Column) -> bool:
    return any(
        column.place < len(row.cells) and filled(row.cells[column.place]) for row in table.rows
    )


def _only(table: Table, named: str, place: int) -> Table:
    return replace(
        table,
        columns=tuple(
            replace(one, field="" if one.field == named and one.place != place else one.field)
            for one in table.columns
        ),
    )


def _asked_which(
    table: Table, named: str, columns: Sequence[Column], asking: Asking
) -> Table | None:
    answer = asking.ask(
        f"columns:{named}",
        "columns",
        ASKED[named],
        [_choice(table, one) for one in columns],
        table.head.number,
    )
    if answer is None:
        return None
    return _only(table.with_field(int(answer) - 1, named), named, int(answer) - 1)


def _choice(table: Table, one: Column) -> Choice:
    return Choice(str(one.place + 1), one.head or say("column {n}", n=one.place + 1),
                  example_of(table, one.place))  # fmt: skip


def _masses(table: Table, asking: Asking) -> Table | None:
    """Find the net mass: its own column, or gross less tare."""
    nets = [one for one in table.of(MASS) if _filled_in(table, one)]
    if len(nets) > 1 and _both_filled(table, nets) and len({one.unit for one in nets}) == 1:
        return _asked_which(table, MASS, nets, asking)
    if nets or (table.of(GROSS) and table.of(TARE)):
        return table
    if table.of(MASS):
        return table
    return _needed(table, MASS, table.of("", AMOUNT, GROSS, COUNT), asking)


def _both_filled(table: Table, columns: Sequence[Column]) -> bool:
    return any(
        sum(one.place < len(row.cells) and filled(row.cells[one.place]) for one in columns) > 1
        for row in table.rows
    )


def _needed(table: Table, named: str, columns: Sequence[Column], asking: Asking) -> Table | None:
    open_ones = [one for one in columns if one.field in ("", AMOUNT, GROSS, COUNT)
                 and _filled_in(table, one)]  # fmt: skip
    if not open_ones:
        words = say("A column “{name}” is needed.", name=named)
        asking.wrong("column-missing", words, table.head.number)
        return None
    return _asked_which(table, named, open_ones, asking)


def kind_of_all(table: Table, asking: Asking) -> str | None:
    """Say of what kind the entries are where no column does; None while it is asked.

    Empty where each row says so itself, by who gave or sold it.
    """
    if table.of(KIND) or (table.of(SOURCE) and table.of(SUPPLIER)):
        return ""
    if table.of(SOURCE):
        return "collection"
    if table.of(SUPPLIER):
        return "purchase"
    return asking.ask(
        "kind",
        "kind",
        say("No column says who gave it. What came in?"),
        [
            Choice("collection", say("Gifts: a column, or you, say from whom")),
            Choice("purchase", say("Purchases")),
            Choice("opening", say("What was there when the book was opened")),
        ],
        table.head.number,
    )


def source_column(table: Table, asking: Asking) -> Table | None:
    """Ask which column says who gave it, where none has such a head; it may be none."""
    open_ones = [one for one in table.of("") if one.head and _filled_in(table, one)]
    if table.of(SOURCE) or not open_ones:
        return table
    choices = [_choice(table, one) for one in open_ones]
    choices.append(Choice(NONE, say("None of them")))
    answer = asking.ask(f"columns:{SOURCE}", "columns", ASKED[SOURCE], choices, table.head.number)
    if answer is None:
        return None
    return table if answer == NONE else table.with_field(int(answer) - 1, SOURCE)
