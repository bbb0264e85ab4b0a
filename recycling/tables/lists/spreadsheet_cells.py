"""Cells of a workbook (Office Open XML): values, number formats, what is hidden or merged."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook
from openpyxl.worksheet._read_only import ReadOnlyWorksheet
from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

from recycling.tables.lists.cells import Cell, Clock, Row, Sheet, Stored, Unread
from recycling.tables.lists.folded import folded
from recycling.tables.lists.parting import LONGEST_CELL, MOST_CELLS, MOST_COLUMNS, MOST_ROWS
from recycling.tables.lists.words import UNIT_WORDS
from shared.errors import Refused
from shared.said import say

MOST_SHEETS, MOST_MERGED = 40, 10_000
NO_VALUE, BROKEN = "formula-without-value", "cell-unreadable"
_QUOTED = re.compile(r'"([^"]*)"|\\(.)|\[[^\]]*\]')
_DIGITS = re.compile(r"[0#?][0#?,.\s]*")


class Cells(WorkSheetParser):
    """Reads stored values cell by cell; what cannot be read is marked, not passed over."""

    col_counter: int

    def parse_cell(self, element: Any) -> dict[str, Any]:
        try:
            cell: dict[str, Any] = super().parse_cell(element)
        except (ValueError, TypeError, LookupError, OverflowError, AttributeError):
            column = self.col_counter if element.get("r") else self.col_counter + 1
            self.col_counter = column
            return {"row": self.row_counter, "column": column, "value": "", "data_type": BROKEN}
        if cell["value"] is None and element.find(FORMULA_TAG) is not None:
            cell["value"], cell["data_type"] = "", NO_VALUE
        return cell


def book_sheets(data: bytes) -> list[Sheet]:
    """Read the sheets of a workbook.

    Raises
    ------
    Refused
        When it has no sheet, or more than a list needs.
    """
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    sheets = [one for one in book.worksheets if isinstance(one, ReadOnlyWorksheet)]
    if not sheets or len(sheets) > MOST_SHEETS:
        raise Refused.because("sheet-missing", "There is no sheet with a list in it.", "/text")
    units = [unit_of_format(_format(book, style)) for style in book._cell_styles]
    return [_sheet(one, units) for one in sheets]


def _format(book: Any, style: Any) -> str:
    from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE

    number = style.numFmtId
    if number < BUILTIN_FORMATS_MAX_SIZE:
        return str(BUILTIN_FORMATS.get(number, ""))
    custom = book._number_formats
    place = number - BUILTIN_FORMATS_MAX_SIZE
    return str(custom[place]) if 0 <= place < len(custom) else ""


def unit_of_format(code: str) -> str:
    """Read the unit that a number format writes beside its figure; empty where it is none.

    Examples
    --------
    >>> unit_of_format('0.00" kg"'), unit_of_format('#,##0\\\\ "g"'), unit_of_format("0.00")
    ('kg', 'g', '')
    """
    first = code.partition(";")[0]
    if not _DIGITS.search(re.sub(_QUOTED, "", first)) and "General" not in first:
        return ""
    words = "".join((match[1] or match[2] or "") for match in _QUOTED.finditer(first))
    return UNIT_WORDS.get(folded(words), "")


def _sheet(sheet: Any, units: list[str]) -> Sheet:
    book = sheet.parent
    with sheet._get_source() as source:
        parser = Cells(
            source,
            sheet._shared_strings,
            data_only=True,
            epoch=book.epoch,
            date_formats=book._date_formats,
            timedelta_formats=book._timedelta_formats,
        )
        rows = list(_rows(parser, units))
    merged = list(getattr(parser.merged_cells, "mergeCell", ()))[:MOST_MERGED]
    spans = tuple(
        (one.min_row, one.min_col, one.max_row - one.min_row + 1, one.max_col - one.min_col + 1)
        for one in merged
    )
    return Sheet(str(sheet.title), rows, sheet.sheet_state != "visible", spans)


def _rows(parser: Cells, units: list[str]) -> Iterator[Row]:
    """Give the rows with something in them, in order; refuse one beyond the limits."""
    before = cells_read = 0
    for number, cells in parser.parse():
        kept = [cell for cell in cells if cell["value"] not in (None, "") or _marked(cell)]
        if not kept:
            continue
        if number <= before:
            said = "Rows of this sheet stand out of order: save it again."
            raise Refused.because("row-unreadable", said, f"/{number}")
        cells_read += len(kept)
        if number > MOST_ROWS + 50 or cells_read > MOST_CELLS:
            said = say("At most {most} rows; split the file.", most=MOST_ROWS)
            raise Refused.because("too-many-rows", said, f"/{number}")
        if max(cell["column"] for cell in kept) > MOST_COLUMNS:
            said = say("Something stands beyond column {most}.", most=MOST_COLUMNS)
            raise Refused.because("row-too-long", said, f"/{number}")
        for blank in range(before + 1, number) if number - before < 1_000 else ():
            yield Row(blank, [])
        before = number
        hidden = parser.row_dimensions.get(str(number), {}).get("hidden") in ("1", "true")
        yield Row(number, _row(kept, units), hidden)


def _marked(cell: dict[str, Any]) -> bool:
    return cell["data_type"] in (NO_VALUE, BROKEN, "e")


def _row(cells: list[dict[str, Any]], units: list[str]) -> list[Cell]:
    row: list[Cell] = [""] * max(cell["column"] for cell in cells)
    before = 0
    for cell in cells:
        place = cell["column"] - 1
        if cell["column"] <= before or cell["data_type"] in (BROKEN, "e"):
            row[place] = Unread(BROKEN)
        elif cell["data_type"] == NO_VALUE:
            row[place] = Unread(NO_VALUE)
        else:
            style = cell.get("style_id") or 0
            row[place] = said(cell["value"], units[style] if style < len(units) else "")
        before = max(before, cell["column"])
    return row


def said(value: Any, unit: str = "") -> Cell:
    """Say a value as a cell; what has none is marked.

    Examples
    --------
    >>> said(0.1, "kg"), said(True), said(" a\\nb ")
    (Stored(value=Decimal('0.1'), unit='kg'), 'yes', 'a b')
    >>> said(datetime(2026, 5, 4, 9, 29, 59, 999_900)).at.isoformat()
    '2026-05-04T09:30:00'
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        at = (value.replace(tzinfo=None) + timedelta(milliseconds=500)).replace(microsecond=0)
        return Clock(at, at.time() != time())
    if isinstance(value, date):
        return Clock(datetime(value.year, value.month, value.day), False)
    if isinstance(value, time):
        return value.isoformat("minutes")
    if isinstance(value, timedelta):
        return Unread(BROKEN)
    if isinstance(value, int | float):
        if not math.isfinite(value):
            return Unread(BROKEN)
        whole = float(value).is_integer() and abs(value) < 1e15
        return Stored(Decimal(int(value)) if whole else Decimal(f"{value:.12g}"), unit)
    text = " ".join(str(value)[: 4 * LONGEST_CELL].split())[: LONGEST_CELL + 1]
    if any(sign < " " or "\ud800" <= sign <= "\udfff" for sign in text):
        return Unread(BROKEN)
    return text
