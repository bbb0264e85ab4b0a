"""Reports in tests: asked for a told history, and read back by key."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from recycling.records.reports.documents import Document, Fact, Table
from recycling.records.reports.question import PERIOD, ReportQuestion
from recycling.reports.content import document_of
from tests.factories import START

FIRST = START.date()
FATES = (
    "filament_mg",
    "stock_mg",
    "waste_mg",
    "side_mg",
    "handed_on_mg",
    "discarded_mg",
    "lost_mg",
    "unaccounted_mg",
    "rounding_mg",
)
"""Facts of a report of thanks that say what became of what was there and came in."""


def report(actor: Any, first: date = FIRST, last: date | None = None, **asked: Any) -> Document:
    """Ask for a report; by default of the week in which told histories begin."""
    kind = asked.pop("kind", PERIOD)
    question = ReportQuestion(kind, first, last or first + timedelta(days=6), **asked)
    return document_of(actor, question)


def table(document: Document, key: str) -> Table:
    """Find a table by key."""
    return next(one for part in document.sections for one in part.tables if one.key == key)


def has_table(document: Document, key: str) -> bool:
    """Say whether there is such a table."""
    return any(one.key == key for part in document.sections for one in part.tables)


def fact(document: Document, key: str) -> Fact:
    """Find a fact by key."""
    return next(one for part in document.sections for one in part.facts if one.key == key)


def lines(one: Table) -> list[dict[str, Any]]:
    """Read the rows of a table by the keys of its columns."""
    keys = [column.key for column in one.columns]
    return [dict(zip(keys, row, strict=True)) for row in one.rows]


def total(one: Table) -> dict[str, Any]:
    """Read the last row of a table, which sums up."""
    assert one.total is not None
    return dict(zip([column.key for column in one.columns], one.total, strict=True))


def texts(document: Document) -> str:
    """Join everything that is said in sentences."""
    return "\n".join(line for part in document.sections for line in part.text)


def sections(document: Document) -> dict[str, Any]:
    """Map the sections by key."""
    return {part.key: part for part in document.sections}
