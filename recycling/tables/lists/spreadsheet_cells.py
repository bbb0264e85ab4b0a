"""Cells of a sheet as text: numbers, dates, words, and results of formulas as they were stored."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._read_only import ReadOnlyWorksheet
from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

from recycling.tables.lists.entries_csv import LONGEST_CELL, MOST_ROWS
from shared.errors import Collected, Refused
from shared.said import say

MOST_COLUMNS, MOST_SHEETS, MOST_PROBLEMS = 60, 40, 200
MOST_TEXT = 5 * 2**20
NEEDED = {"at", "polymer"}
NO_VALUE, BROKEN = "formula", "broken"

Row = tuple[int, list[dict[str, Any]]]


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


def sheet_text(data: bytes, zone: str) -> str:
    """Read the sheet with the list into CSV text whose lines are the rows of the sheet.

    Parameters
    ----------
    data : bytes
        A file of Office Open XML.
    zone : str
        IANA name of the zone of dates and times in cells.

    Raises
    ------
    Refused
        Naming each cell that cannot be read by row and column.
    """
    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    sheets = [one for one in book.worksheets if isinstance(one, ReadOnlyWorksheet)]
    if not sheets or len(sheets) > MOST_SHEETS:
        raise Refused.because("sheet-missing", "There is no sheet with a list in it.", "/text")
    lists = [one for one in sheets if _has_heads(one)] or sheets[:1]
    if len(lists) > 1:
        names = ", ".join(f"“{one.title}”" for one in lists)
        said = say("More than one sheet holds a list: {names}. Keep one.", names=names)
        raise Refused.because("sheets-several", said, "/text")
    return _text(lists[0], ZoneInfo(zone))


def _parser(sheet: Any, source: Any) -> Cells:
    book = sheet.parent
    return Cells(
        source,
        sheet._shared_strings,
        data_only=True,
        epoch=book.epoch,
        date_formats=book._date_formats,
        timedelta_formats=book._timedelta_formats,
    )


def _has_heads(sheet: Any) -> bool:
    with sheet._get_source() as source:
        for number, cells in _parser(sheet, source).parse():
            return number == 1 and {_name(cell) for cell in cells} >= NEEDED
    return False


def _name(cell: dict[str, Any]) -> str:
    return str(cell["value"] or "").strip().lower()[:40]


def _text(sheet: Any, zone: ZoneInfo) -> str:
    found, names = Collected(), dict[int, str]()
    paper = io.StringIO()
    writer, lines = csv.writer(paper, lineterminator="\n"), 0
    with sheet._get_source() as source:
        parser = _parser(sheet, source)
        for number, cells in _filled(parser.parse()):
            if not lines and number == 1:
                names = {cell["column"]: _name(cell) for cell in cells}
            row = _row(number, cells, names, zone, found)
            while lines < number - 1:
                paper.write("\n")
                lines += 1
            writer.writerow(row)
            lines += 1
            if paper.tell() > MOST_TEXT:
                raise Refused.because("spreadsheet-too-large", "Too much text.", f"/{number}")
            if len(found.problems) >= MOST_PROBLEMS:
                break
    for merged in getattr(parser.merged_cells, "mergeCell", ()):
        column, number = merged.min_col, merged.min_row
        if number <= lines and len(found.problems) < MOST_PROBLEMS:
            said = "Cells are merged here: part them, and fill in each."
            found.add("cells-merged", said, f"/{number}/{_column(column, names)}")
    found.problems.sort(key=lambda one: int(one.pointer.split("/")[1]))
    found.refuse()
    return paper.getvalue()


def _filled(rows: Iterator[Row]) -> Iterator[Row]:
    """Give the rows with something in them, in order; refuse one beyond the limits."""
    before = 0
    for number, cells in rows:
        kept = [cell for cell in cells if cell["value"] not in (None, "") or _marked(cell)]
        if not kept:
            continue
        if number <= before:
            said = "Rows of this sheet stand out of order: save it again."
            raise Refused.because("row-unreadable", said, f"/{number}")
        if number > MOST_ROWS + 1:
            said = say("At most {most} rows; split the file.", most=MOST_ROWS)
            raise Refused.because("too-many-rows", said, f"/{number}")
        if max(cell["column"] for cell in kept) > MOST_COLUMNS:
            said = say("Something stands beyond column {most}.", most=MOST_COLUMNS)
            raise Refused.because("row-too-long", said, f"/{number}")
        before = number
        yield number, kept


def _marked(cell: dict[str, Any]) -> bool:
    return cell["data_type"] in (NO_VALUE, BROKEN, "e")


def _row(
    number: int,
    cells: list[dict[str, Any]],
    names: dict[int, str],
    zone: ZoneInfo,
    found: Collected,
) -> list[str]:
    row, before = [""] * max(cell["column"] for cell in cells), 0
    for cell in cells:
        pointer = f"/{number}/{_column(cell['column'], names)}"
        if cell["column"] <= before:
            found.add("cell-unreadable", "This cell is there twice: save it again.", pointer)
        before = cell["column"]
        if cell["data_type"] == NO_VALUE:
            said = "The result of this formula was not stored: open, save and bring it again."
            found.add("formula-without-value", said, pointer)
        elif _marked(cell):
            found.add("cell-unreadable", "This cell holds an error: put a value there.", pointer)
        else:
            try:
                row[cell["column"] - 1] = _said(cell["value"], zone)
            except ValueError:
                found.add("cell-unreadable", "This cell holds what nobody can read.", pointer)
    return row


def _column(column: int, names: dict[int, str]) -> str:
    return names.get(column) or get_column_letter(max(1, min(column, 18_278)))


def _said(value: Any, zone: ZoneInfo) -> str:
    """Say a value as text; raise ValueError for what has none.

    Examples
    --------
    >>> lisbon = ZoneInfo("Europe/Lisbon")
    >>> [_said(one, lisbon) for one in (4310000.0, 0.1, True, " a\\nb ")]
    ['4310000', '0.1', 'yes', 'a b']
    >>> _said(datetime(2026, 5, 4, 9, 29, 59, 999_900), lisbon)
    '2026-05-04T09:30:00+01:00'
    >>> _said(datetime(2026, 10, 25, 1, 30), lisbon)  # comes twice
    '2026-10-25T01:30:00'
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return _moment(value, zone)
    if isinstance(value, date):
        return _moment(datetime(value.year, value.month, value.day), zone)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(value)
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    text = " ".join(str(value)[: 4 * LONGEST_CELL].split())[: LONGEST_CELL + 1]
    if any(sign < " " or "\ud800" <= sign <= "\udfff" for sign in text):
        raise ValueError("a sign that cannot be kept")
    return text


def _moment(at: datetime, zone: ZoneInfo) -> str:
    """Write a time of the wall clock with its offset; without where it comes twice or never."""
    at = (at.replace(tzinfo=None) + timedelta(milliseconds=500)).replace(microsecond=0)
    first, second = (at.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return (first if first.utcoffset() == second.utcoffset() else at).isoformat()
