"""A frozen report as CSV: one long file with a row for each figure, and each table alone.

The long file keeps figures as they are: whole milligrams, shares of 1. A table alone is for people:
its masses are in kg, down to the milligram.
"""

from __future__ import annotations

from collections.abc import Iterator

from recycling.records.reports.documents import MASS, TEXT, Cell, Section, Table
from recycling.records.reports.files import FrozenReport
from recycling.tables.csv_text import csv_lines, kilograms
from recycling.tables.reports.text import raw_unit_of, unit_of

COLUMNS = ("section", "table", "row", "label", "column", "value", "unit", "how")
REPORT, FACTS, TOTAL = "report", "", "total"
MARK = "\ufeff"
"""A byte order mark, by which spreadsheets know that the text is UTF-8."""

Line = tuple[object, ...]


def csv_of(report: FrozenReport, digest: str) -> str:
    """Write every figure of a report as a row; the first rows say which report it is."""
    return MARK + "".join(csv_lines(COLUMNS, long_rows(report, digest)))


def long_rows(report: FrozenReport, digest: str) -> Iterator[Line]:
    """Give a row for each figure: where it stands, what it is, its value, unit and how."""
    document = report.document
    facts: list[tuple[str, object]] = [
        ("code", report.code),
        ("sha256", digest),
        ("frozen_at", report.frozen_at),
        ("supersedes", report.supersedes),
        ("workshop", document.workshop),
        ("title", document.title),
        ("from_date", report.question.from_date.isoformat()),
        ("to_date", report.question.to_date.isoformat()),
        ("zone", document.zone),
        ("sequence", document.sequence),
    ]
    for key, value in facts:
        yield REPORT, FACTS, key, key, "value", value, "", ""
    for section in document.sections:
        yield from _section(section)


def _section(section: Section) -> Iterator[Line]:
    for fact in section.facts:
        line = (section.key, FACTS, fact.key, fact.title)
        yield *line, "value", fact.value, raw_unit_of(fact), fact.how
        if fact.uncertainty is not None:
            yield *line, "standard_uncertainty", fact.uncertainty, raw_unit_of(fact), "computed"
        if fact.covered is not None:
            one = fact.covered
            yield *line, "half_interval_95", one.half, raw_unit_of(fact), "computed"
            yield *line, "coverage_factor", one.k, "", "computed"
            if one.freedom is not None:
                yield *line, "degrees_of_freedom", one.freedom, "", "computed"
            yield *line, "rests_on", "; ".join(one.because), "", ""
    for table in section.tables:
        for number, row in enumerate(table.rows, 1):
            yield from _row(section.key, table, str(number), row)
        if table.total is not None:
            yield from _row(section.key, table, TOTAL, table.total)


def _row(section: str, table: Table, number: str, row: tuple[Cell, ...]) -> Iterator[Line]:
    label = next(
        (
            cell
            for cell, one in zip(row, table.columns, strict=True)
            if one.kind == TEXT and cell is not None
        ),
        "",
    )
    for cell, column in zip(row, table.columns, strict=True):
        if cell is not None:
            unit = raw_unit_of(column)
            yield section, table.key, number, label, column.key, cell, unit, column.how


def table_csv(table: Table) -> str:
    """Write one table as people read it: headings with units, masses in kg.

    Examples
    --------
    >>> from recycling.records.reports.documents import Column
    >>> columns = (Column("what", "What", "text"), Column("mass_mg", "Mass", "mass"))
    >>> table_csv(Table("t", "T", columns, (("=1", 2_000_001),)))[1:]
    'What,"Mass, kg"\\r\\n\\'=1,2.000001\\r\\n'
    """
    names = [f"{one.title}, {unit_of(one)}" if unit_of(one) else one.title for one in table.columns]
    rows = [*table.rows, *([table.total] if table.total is not None else [])]
    return MARK + "".join(csv_lines(names, (_in_kilograms(row, table) for row in rows)))


def _in_kilograms(row: tuple[Cell, ...], table: Table) -> Line:
    return tuple(
        kilograms(cell) if column.kind == MASS and isinstance(cell, int) else cell
        for cell, column in zip(row, table.columns, strict=True)
    )
