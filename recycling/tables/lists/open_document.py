"""Cells of a spreadsheet in the OpenDocument format: values, units of formats, what is hidden.

Names of elements and attributes are those of OpenDocument 1.3, part 3 (OASIS 2021).
"""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from xml.parsers import expat

from recycling.tables.lists.cells import Cell, Clock, Row, Sheet, Stored, Unread
from recycling.tables.lists.folded import folded
from recycling.tables.lists.parting import LONGEST_CELL, MOST_CELLS, MOST_COLUMNS, MOST_ROWS
from recycling.tables.lists.words import UNIT_WORDS
from shared.errors import Refused
from shared.said import say

CONTENT, TYPE = "content.xml", b"application/vnd.oasis.opendocument.spreadsheet"
BROKEN = Unread("cell-unreadable")
CELLS = ("table:table-cell", "table:covered-table-cell")
SPACES = ("text:p", "text:s", "text:tab", "text:line-break")
REPEATED = "table:number-columns-repeated"
_DURATION = re.compile(r"^PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S$")


def is_open_document(data: bytes) -> bool:
    """Whether packed data says that it is a spreadsheet of this format."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        names = packed.namelist()
        if "mimetype" in names:
            return packed.read("mimetype")[:200].strip().startswith(TYPE)
        return CONTENT in names


def open_sheets(data: bytes) -> list[Sheet]:
    """Read the sheets of an OpenDocument spreadsheet.

    Raises
    ------
    Refused
        When it has more than a list needs.
    """
    reader = _Reader()
    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = reader.opened, reader.closed
    parser.CharacterDataHandler = reader.text
    with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(CONTENT) as part:
        parser.ParseFile(part)
    if not reader.sheets:
        raise Refused.because("sheet-missing", "There is no sheet with a list in it.", "/text")
    return reader.sheets


class _Reader:
    """Follows the elements of a content part and keeps its sheets."""

    def __init__(self) -> None:
        self.sheets: list[Sheet] = []
        self.rows: list[Row] = []
        self.merged: list[tuple[int, int, int, int]] = []
        self.units: dict[str, str] = {}
        self.styles: dict[str, str] = {}
        self.hidden_tables: set[str] = set()
        self.style = self.number_style = ""
        self.written: list[str] = []
        self.cells: list[Cell] = []
        self.cell: dict[str, str] = {}
        self.row: dict[str, str] = {}
        self.table: dict[str, str] = {}
        self.column_styles: list[str] = []
        self.number = self.cells_read = self.annotation = 0
        self.inside = ""

    def opened(self, name: str, given: dict[str, str]) -> None:
        if name == "office:annotation":
            self.annotation += 1
        elif name == "style:style":
            self.style = given.get("style:name", "")
            self.styles[self.style] = given.get("style:data-style-name", "")
        elif name == "style:table-properties" and given.get("table:display") == "false":
            self.hidden_tables.add(self.style)
        elif name.startswith("number:") and name.endswith("-style"):
            self.number_style, self.written = given.get("style:name", ""), []
        elif name == "number:text":
            self.inside = name
        elif name == "table:table":
            self.table, self.rows, self.merged, self.number = given, [], [], 0
            self.column_styles = []
        elif name == "table:table-column":
            times = min(_whole(given.get(REPEATED)), MOST_COLUMNS)
            self.column_styles += [given.get("table:default-cell-style-name", "")] * times
        elif name == "table:table-row":
            self.row, self.cells = given, []
        elif name in CELLS:
            self.cell, self.written, self.inside = given, [], name
        elif name in SPACES and not self.annotation:
            self.written.append(" ")

    def text(self, said: str) -> None:
        if self.inside and not self.annotation:
            self.written.append(said)

    def closed(self, name: str) -> None:
        if name == "office:annotation":
            self.annotation -= 1
        elif name == "number:text":
            self.inside = ""
            self.units[self.number_style] = UNIT_WORDS.get(folded("".join(self.written)), "")
        elif name in ("table:table-cell", "table:covered-table-cell"):
            self._cell_closed(covered=name != "table:table-cell")
        elif name == "table:table-row":
            self._row_closed()
        elif name == "table:table":
            style = self.table.get("table:style-name", "")
            named = self.table.get("table:name", "")
            hidden = style in self.hidden_tables
            self.sheets.append(Sheet(named, self.rows, hidden, tuple(self.merged)))

    def _cell_closed(self, covered: bool) -> None:
        place = len(self.cells)
        times = _whole(self.cell.get(REPEATED))
        cell: Cell = "" if covered else self._value(place)
        if cell == "":
            times = min(times, MOST_COLUMNS + 1)
        elif place + times > MOST_COLUMNS:
            said = say("Something stands beyond column {most}.", most=MOST_COLUMNS)
            raise Refused.because("row-too-long", said, f"/{self.number + 1}")
        self.cells += [cell] * times
        rows = _whole(self.cell.get("table:number-rows-spanned"))
        columns = _whole(self.cell.get("table:number-columns-spanned"))
        if rows > 1 or columns > 1:
            self.merged.append((self.number + 1, place + 1, rows, columns))
        self.cell, self.inside = {}, ""

    def _value(self, place: int) -> Cell:
        given, kind = self.cell, self.cell.get("office:value-type", "")
        text = " ".join("".join(self.written).split())[: LONGEST_CELL + 1]
        if kind in ("float", "percentage", "currency"):
            return self._number(given.get("office:value", ""), place)
        if kind == "date":
            return _clock(given.get("office:date-value", ""))
        if kind == "time":
            match = _DURATION.match(given.get("office:time-value", ""))
            return f"{int(match[1]):02d}:{match[2]:0>2}" if match else BROKEN
        if kind == "boolean":
            return "yes" if given.get("office:boolean-value") == "true" else "no"
        if kind == "string" or not kind:
            broken = any(sign < " " for sign in text) or text.startswith(
                ("#REF!", "#NAME?", "Err:")
            )
            return BROKEN if broken else given.get("office:string-value", "") or text
        return BROKEN

    def _number(self, text: str, place: int) -> Cell:
        try:
            value = Decimal(text)
        except InvalidOperation:
            return BROKEN
        style = self.cell.get("table:style-name", "")
        if not style and place < len(self.column_styles):
            style = self.column_styles[place]
        return Stored(value, self.units.get(self.styles.get(style, ""), ""))

    def _row_closed(self) -> None:
        times = _whole(self.row.get("table:number-rows-repeated"))
        while self.cells and self.cells[-1] == "":
            self.cells.pop()
        if not self.cells:
            self.number += times
            return
        self.cells_read += times * len(self.cells)
        if self.number + times > MOST_ROWS + 50 or self.cells_read > MOST_CELLS:
            said = say("At most {most} rows; split the file.", most=MOST_ROWS)
            raise Refused.because("too-many-rows", said, f"/{self.number + 1}")
        hidden = self.row.get("table:visibility", "visible") != "visible"
        last = self.rows[-1].number if self.rows else 0
        if self.number - last < 1_000:
            self.rows += [Row(blank, []) for blank in range(last + 1, self.number + 1)]
        for _ in range(times):
            self.number += 1
            self.rows.append(Row(self.number, self.cells, hidden))


def _whole(text: Any) -> int:
    """Read how often something is repeated: once where nothing is said."""
    return int(text) if text and str(text).isdigit() and len(str(text)) < 9 else 1


def _clock(text: str) -> Cell:
    try:
        at = datetime.fromisoformat(text.rstrip("Z")[:19])
    except ValueError:
        return BROKEN
    return Clock(at, "T" in text and not text.startswith(f"{at:%Y-%m-%d}T00:00:00"))
