"""Text as rows of cells: by the separator under which heads are heads and rows agree in width."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from recycling.tables.lists.cells import Row
from recycling.tables.lists.folded import folded
from recycling.tables.lists.heads import field_of
from shared.errors import Refused
from shared.said import say

SEPARATORS = (";", "\t", ",", "|")
LOOKED_AT = 200
"""Rows that decide the separator."""
LONGEST_CELL, MOST_COLUMNS, MOST_ROWS = 500, 200, 60_000
MOST_CELLS = 2_000_000


def rows_of(text: str, tick: Callable[[], None]) -> list[Row]:
    r"""Part a text into rows, numbered as a spreadsheet numbers them.

    Examples
    --------
    >>> [row.cells for row in rows_of("Datum;Gewicht (kg)\n1.9.2026;5,69\n", lambda: None)]
    [['Datum', 'Gewicht (kg)'], ['1.9.2026', '5,69']]
    """
    said, skip = _told(text)
    separator = said or _separator(text, tick)
    rows, cells, unread = list[Row](), 0, _reader(text, separator)
    number = 0
    try:
        for number, row in enumerate(unread, 1):
            tick()
            if number > MOST_ROWS + 50:
                words = say("At most {most} rows; split the file.", most=MOST_ROWS)
                raise Refused.because("too-many-rows", words, f"/{number}")
            while len(row) > MOST_COLUMNS and not any(map(str.strip, row[MOST_COLUMNS:])):
                del row[MOST_COLUMNS:]
            cells += len(row)
            if len(row) > MOST_COLUMNS or cells > MOST_CELLS:
                words = say(
                    "At most {most} columns; leave out those without heads.", most=MOST_COLUMNS
                )
                raise Refused.because("too-many-columns", words, f"/{number}")
            if number > skip:
                rows.append(Row(number, [cell.strip()[: LONGEST_CELL + 1] for cell in row]))
    except csv.Error as error:
        words = say("This line cannot be read as CSV: {why}.", why=str(error))
        raise Refused.because("row-unreadable", words, f"/{number + 1}") from error
    return rows


def _told(text: str) -> tuple[str, int]:
    """Read the line that some spreadsheets write first: it names the separator."""
    first = text.lstrip("\ufeff").partition("\n")[0].strip().strip('"')
    if first.lower().startswith("sep=") and len(first) == 5:
        return first[4], 1
    return "", 0


def _reader(text: str, separator: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)


def _separator(text: str, tick: Callable[[], None]) -> str:
    graded = [(_grade(text, one, tick), -place, one) for place, one in enumerate(SEPARATORS)]
    return max(graded)[2]


def _grade(text: str, separator: str, tick: Callable[[], None]) -> tuple[int, float, int]:
    """Grade a separator: most heads known in a row, share of rows of one width, and that width."""
    widths: Counter[int] = Counter()
    heads = 0
    try:
        for place, row in enumerate(_reader(text, separator)):
            tick()
            if len(row) > 5_000:
                return (0, 0.0, len(row))  # no list is so wide: it is refused when it is read
            if place >= LOOKED_AT:
                break
            if not any(map(str.strip, row)):
                continue
            widths[len(row)] += 1
            if place < 40 and len(row) <= MOST_COLUMNS:
                heads = max(heads, len(known_heads(row)))
    except csv.Error:
        pass  # a row that cannot be read is named when all are read
    several = [(count, width) for width, count in widths.items() if width > 1]
    if not several:
        return (0, 0.0, 0)
    count, width = max(several)
    return (heads if heads > 1 else 0, count / widths.total(), width)


def known_heads(cells: Sequence[str]) -> set[str]:
    """Name the fields whose heads stand in a row."""
    found = (field_of(cell)[0] for cell in cells if 0 < len(cell) <= 80 and folded(cell))
    return {one for one in found if one}
