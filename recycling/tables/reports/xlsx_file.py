"""A frozen report as a spreadsheet: typed cells, a sheet for each table, nothing that runs.

Masses are numbers in kg that hold every milligram; days are dates. No text becomes a formula or a
link, and equal reports give equal bytes.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import Any

import xlsxwriter

from recycling.records.reports.documents import (
    DAY,
    ENERGY,
    MASS,
    SHARE,
    TEXT,
    Cell,
    Column,
    Fact,
    Section,
    Table,
)
from recycling.records.reports.files import FileWords, FrozenReport
from recycling.tables.reports.layout import BEFORE, MARK, keywords
from recycling.tables.reports.text import noted, spread_of, uncertainty_head, unit_of
from shared.texts import sure

MG_IN_KG = 1_000_000
LONGEST_NAME, LONGEST_CELL = 31, 32_767
NO_NAME = str.maketrans(dict.fromkeys("[]:*?/\\'", "-"))
FORMATS = {MASS: "#,##0.000###", SHARE: "0.0 %", ENERGY: "#,##0.000", DAY: "yyyy-mm-dd"}
NARROW, WIDE, WIDEST = 14, 34, 70
PROPERTIES = "docProps/app.xml"
APPLICATION = re.compile(rb"<Application>.*?</Application>(.*)<AppVersion>.*?</AppVersion>", re.S)
NAME = rb"<Application>Regrind Ledger</Application>\1"
"""ISO/IEC 29500-1, 22.2: the application that made a file. The version is left out, since it must
be of the form that some office programs count in."""


def xlsx_of(report: FrozenReport, digest: str, words: FileWords, mark: str = MARK) -> bytes:
    """Write a report as a spreadsheet of Office Open XML."""
    held = io.BytesIO()
    book = xlsxwriter.Workbook(
        held,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    book.set_properties(
        {
            "title": sure(report.document.title),
            "author": sure(report.document.workshop),
            "subject": sure(report.document.subtitle),
            "keywords": ", ".join(keywords(report.code, digest, mark)),
            "comments": words.check,
            "created": report.frozen_at.astimezone(UTC).replace(tzinfo=None),
        }
    )
    _Sheets(book, report, words).fill(digest)
    book.close()
    return held.getvalue() if mark.startswith(BEFORE) else _named(held.getvalue())


def _named(packed: bytes) -> bytes:
    """Name this service as the application of a file; the library would name another's."""
    held = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(packed)) as made,
        zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as named,
    ):
        for part in made.infolist():
            text = made.read(part)
            if part.filename == PROPERTIES:
                text = APPLICATION.sub(NAME, text, count=1)
            named.writestr(part, text)
    return held.getvalue()


class _Sheets:
    """The sheets of one book, with the formats that they share."""

    def __init__(self, book: Any, report: FrozenReport, words: FileWords) -> None:
        self.book, self.report, self.words = book, report, words
        self.names: set[str] = set()
        self.formats: dict[tuple[str, bool], Any] = {}
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.wrapped = book.add_format({"text_wrap": True, "valign": "top"})

    def fill(self, digest: str) -> None:
        """Write every sheet, the contents first."""
        sections, words = self.report.document.sections, self.words
        contents = self._add(words.contents)
        facts = [(section, fact) for section in sections for fact in section.facts]
        listed: list[tuple[str, str, str]] = []
        if facts:
            sheet = self._add(words.figures)
            self._facts(sheet, facts)
            listed.append((sheet.name, "", words.figures))
        for section in sections:
            for table in section.tables:
                sheet = self._add(table.key)
                self._table(sheet, table)
                listed.append((sheet.name, section.title, table.caption))
        sheet = self._add(words.definitions)
        self._definitions(sheet)
        listed.append((sheet.name, "", words.definitions))
        self._contents(contents, listed, digest)

    def _add(self, name: str) -> Any:
        plain = name.translate(NO_NAME)[:LONGEST_NAME].strip() or "sheet"
        unlike, count = plain, 1
        while unlike.lower() in self.names:
            count += 1
            unlike = f"{plain[: LONGEST_NAME - 4]} {count}"
        self.names.add(unlike.lower())
        return self.book.add_worksheet(unlike)

    def _format(self, kind: str, total: bool = False) -> Any:
        if (kind, total) not in self.formats:
            look: dict[str, Any] = {"num_format": FORMATS.get(kind, "General"), "valign": "top"}
            if kind == TEXT:
                look = {"text_wrap": True, "valign": "top"}
            if total:
                look |= {"bold": True, "top": 6}
            self.formats[kind, total] = self.book.add_format(look)
        return self.formats[kind, total]

    def _write(self, sheet: Any, place: tuple[int, int], value: Cell, kind: str, total=False):
        look = self._format(kind, total)
        if value is None:
            sheet.write_blank(*place, None, look)
        elif kind == DAY:
            self._day(sheet, place, str(value), look)
        elif isinstance(value, str):
            sheet.write_string(*place, sure(value)[:LONGEST_CELL], look)
        else:
            sheet.write_number(*place, value / MG_IN_KG if kind == MASS else value, look)

    def _day(self, sheet: Any, place: tuple[int, int], value: str, look: Any) -> None:
        try:
            day = date.fromisoformat(value[:10])
        except ValueError:
            sheet.write_string(*place, sure(value)[:LONGEST_CELL], look)
            return
        sheet.write_datetime(*place, datetime(day.year, day.month, day.day), look)

    def _heads(self, sheet: Any, line: int, heads: Iterable[str], widths: Sequence[int]) -> None:
        for place, (text, width) in enumerate(zip(heads, widths, strict=True)):
            sheet.write_string(line, place, sure(text), self.head)
            sheet.set_column(place, place, width)

    def _table(self, sheet: Any, table: Table) -> None:
        sheet.write_string(0, 0, sure(table.caption)[:LONGEST_CELL], self.title)
        widths = [WIDE if one.kind == TEXT else NARROW for one in table.columns]
        self._heads(sheet, 2, (self._heading(one) for one in table.columns), widths)
        sheet.freeze_panes(3, 0)
        rows = [(row, False) for row in table.rows]
        if table.total is not None:
            rows.append((table.total, True))
        for line, (row, total) in enumerate(rows, 3):
            for place, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
                self._write(sheet, (line, place), cell, column.kind, total)

    def _heading(self, column: Column) -> str:
        unit = unit_of(column) if column.kind != SHARE else ""
        how = dict(self.words.hows).get(column.how, column.how)
        named = f"{column.title}, {unit}" if unit else column.title
        return f"{named} ({how})" if how else named

    def _facts(self, sheet: Any, facts: Sequence[tuple[Section, Fact]]) -> None:
        words = self.words
        sheet.write_string(0, 0, words.figures, self.title)
        heads = (
            *(words.section, words.figure, words.value, words.unit),
            *(uncertainty_head((one for _, one in facts), words), words.how, words.note),
        )
        widths = (WIDE, WIDE, NARROW + 4, NARROW, NARROW, NARROW, WIDEST)
        self._heads(sheet, 2, heads, widths)
        sheet.freeze_panes(3, 0)
        for line, (section, fact) in enumerate(facts, 3):
            unit = unit_of(fact) if fact.kind != SHARE else ""
            self._write(sheet, (line, 0), section.title, TEXT)
            self._write(sheet, (line, 1), fact.title, TEXT)
            self._write(sheet, (line, 2), fact.value, fact.kind)
            self._write(sheet, (line, 3), unit, TEXT)
            self._write(sheet, (line, 4), spread_of(fact), fact.kind)
            self._write(sheet, (line, 5), dict(words.hows).get(fact.how, fact.how), TEXT)
            self._write(sheet, (line, 6), noted(fact, words), TEXT)

    def _definitions(self, sheet: Any) -> None:
        sheet.write_string(0, 0, self.words.definitions, self.title)
        self._heads(sheet, 2, (self.words.word, self.words.meaning), (WIDE, WIDEST))
        for line, pair in enumerate(self.report.document.definitions, 3):
            for place, text in enumerate(pair):
                self._write(sheet, (line, place), text, TEXT)

    def _contents(self, sheet: Any, listed: Sequence[tuple[str, str, str]], digest: str) -> None:
        report, words, document = self.report, self.words, self.report.document
        sheet.write_string(0, 0, sure(document.title)[:LONGEST_CELL], self.title)
        lines: list[tuple[str, Cell, str]] = [
            (words.about, document.subtitle, TEXT),
            (words.report, report.code, TEXT),
            (words.frozen, report.frozen_at.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"), TEXT),
            (words.period, report.question.from_date.isoformat(), DAY),
            (words.until, report.question.to_date.isoformat(), DAY),
            (words.zone, document.zone, TEXT),
            (words.sequence, document.sequence, ""),
            (words.supersedes, report.supersedes, TEXT),
            (words.digest, digest, TEXT),
            ("", words.check, TEXT),
        ]
        for line, (label, value, kind) in enumerate(lines, 2):
            sheet.write_string(line, 0, label, self.wrapped)
            self._write(sheet, (line, 1), value, kind)
        start = len(lines) + 3
        heads = (words.sheet, words.section, words.table)
        self._heads(sheet, start, heads, (WIDE, WIDEST, WIDEST))
        for line, row in enumerate(listed, start + 1):
            for place, text in enumerate(row):
                self._write(sheet, (line, place), text, TEXT)
