"""A report once it is frozen: what its files are made from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.documents import Document
from recycling.records.reports import ReportQuestion

MAKING, READY, FAILED = "making", "ready", "failed"
STATES = (MAKING, READY, FAILED)

JSON, PDF, XLSX, CSV, HTML = "json", "pdf", "xlsx", "csv", "html"
FILES = (PDF, XLSX, CSV, JSON, HTML)
"""Kinds of files, as their names end, in the order in which they are offered."""

SAME, OTHER_REPORT, UNKNOWN = "same", "other report", "unknown"
"""What a file turned out to be: one of this report's, one of another's, or neither."""


@dataclass(frozen=True)
class FrozenReport:
    """Everything that the files of a report say; its JSON is what the SHA-256 is taken of.

    Attributes
    ----------
    code : str
        Code of the report.
    number : int
        Its number in the workshop.
    frozen_at : datetime
        When it was frozen, UTC.
    supersedes : str
        Code of the report that it takes the place of; empty for none.
    question : ReportQuestion
        What was asked.
    document : Document
        What it says.
    """

    code: str
    number: int
    frozen_at: datetime
    supersedes: str
    question: ReportQuestion
    document: Document
