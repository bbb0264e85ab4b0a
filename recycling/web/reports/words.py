"""Words of reports: kinds, counters, steps of the work, and figures as people read them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from recycling.figures.document_svg import document_svgs
from recycling.records.reports.documents import DAY, Cell, Section
from recycling.records.reports.files import CSV, HTML, JSON, PDF, XLSX, FrozenReport
from recycling.records.reports.rows import LineChange
from recycling.reports.words import file_words
from recycling.tables.reports.text import (
    SetFact,
    SetTable,
    day_text,
    decimals_for,
    set_fact,
    set_table,
    shown,
)

COUNTERS: Mapping[str, Promise] = {
    "collected": _("collected: everything that was handed over"),
    "accepted": _("accepted: what was kept after sorting"),
    "entered the melt": _("entered the melt: what was fed to the extruder for the first time, dry"),
    "good product": _("good product: filament that passed its checks"),
    "dispatched": _("dispatched: product that left for a named receiver"),
}
KINDS: Mapping[str, Promise] = {"period": _("period report"), "thanks": _("thanks to a source")}
STEPS: Mapping[str, Promise] = {
    "waiting": _("Waiting for its turn"),
    "reading": _("Reading the book"),
    "files": _("Writing the files"),
    "done": _("Done"),
}
FILES: Mapping[str, Promise] = {
    PDF: _("PDF, for paper and archives"),
    XLSX: _("Spreadsheet"),
    CSV: _("CSV, a row for each figure"),
    JSON: _("JSON, every figure in full"),
    HTML: _("Page on its own"),
}
CHANGES: Mapping[str, Promise] = {
    "added": _("new line"),
    "removed": _("line is gone"),
    "changed": _("changed"),
}


def counter_said(counter: str) -> str:
    """Say what a counter counts."""
    return str(COUNTERS.get(counter, counter))


@dataclass(frozen=True)
class SetDrawing:
    """A drawing for the page: id, what it finds, and the SVG."""

    key: str
    finding: str
    svg: str


@dataclass(frozen=True)
class PageTable:
    """A table for the page: each cell with whether it stands to the right."""

    table: SetTable
    rows: tuple[tuple[tuple[str, bool], ...], ...]
    total: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class SetSection:
    """A section ready for the page."""

    key: str
    title: str
    text: tuple[str, ...]
    facts: tuple[SetFact, ...]
    drawings: tuple[SetDrawing, ...]
    tables: tuple[PageTable, ...]


def _page_table(table: SetTable) -> PageTable:
    right = [one.right for one in table.columns]
    rows = tuple(tuple(zip(row, right, strict=True)) for row in table.rows)
    total = tuple(zip(table.total, right, strict=True)) if table.total is not None else ()
    return PageTable(table, rows, total)


def set_document(report: FrozenReport) -> dict[str, Any]:
    """Give what the page shows of a frozen report: the same texts as its files."""
    document = report.document
    words = file_words(document.language)
    svgs = document_svgs(document)

    def drawings(section: Section) -> tuple[SetDrawing, ...]:
        keys = [(f"{section.key}-{one.key}", one.finding) for one in section.drawings]
        return tuple(SetDrawing(key, said, svgs[key]) for key, said in keys if key in svgs)

    sections = tuple(
        SetSection(
            one.key,
            one.title,
            one.text,
            tuple(set_fact(fact, words) for fact in one.facts),
            drawings(one),
            tuple(_page_table(set_table(table, words)) for table in one.tables),
        )
        for one in document.sections
    )
    return {"report": report, "document": document, "sections": sections, "words": words}


@dataclass(frozen=True)
class SetChange:
    """A changed line as text."""

    change: LineChange
    before: str
    after: str
    said: str


def set_changes(changes: tuple[LineChange, ...], language: str) -> list[SetChange]:
    """Give changed lines as people read them, both figures with the same decimals."""
    words = file_words(language)
    units = {"mass": "kg", "share": "%", "energy": "kWh"}

    def text(change: LineChange, value: Cell) -> str:
        if value is None:
            return "–"
        if change.kind == DAY:
            return day_text(str(value), words.months)
        places = decimals_for(change.kind, (change.before, change.after))
        written = shown(value, change.kind, places, words.decimal)
        return f"{written} {units.get(change.kind, change.unit)}".rstrip()

    return [
        SetChange(one, text(one, one.before), text(one, one.after), str(CHANGES[one.what]))
        for one in changes
    ]
