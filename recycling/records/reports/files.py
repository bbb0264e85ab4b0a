"""A report once it is frozen: what its files are made from.

What can be said of a file of a report without the server that made it.
The words that files of a report add to what it says.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.reports.documents import Document
from recycling.records.reports.question import ReportQuestion

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


GENUINE, INTACT, CHANGED, OPEN, NONE = "genuine", "intact", "changed", "open", "none"
"""As made of its figures; its figures whole, its setting not ours; not so, or of other figures than
those given; nothing to hold it to; no report."""


@dataclass(frozen=True)
class FileCheck:
    """What was found in a file.

    Attributes
    ----------
    verdict : str
        "genuine": every byte is what the program makes of the figures; "intact": the figures that
        it carries have the SHA-256 that it says, and are those it is held to, but it has another
        layout than this version sets, so that its bytes cannot be compared; "changed": it is not
        as it was made, or its figures are not those it is held to; "open": it carries no figures
        in full, and none were given to hold it to; "none": it is no file of a report.
    kind : str
        "pdf", "xlsx", "csv", "json", "html"; empty for none.
    report : str
        Code of the report that it says it belongs to.
    workshop : str
        Who reports, where the file carries it.
    says_digest : str
        The SHA-256 of the figures that it says it was made of; empty where it says none.
    digest : str
        The SHA-256 of the figures that it carries, or of those it was held to; empty for neither.
    file_digest : str
        SHA-256 of the file itself.
    remade : bool or None
        Whether it is bit for bit what this program makes of the figures; None without figures.
    differences : tuple of str
        Figures that are not as they should be, each in words.
    """

    verdict: str
    kind: str
    report: str
    workshop: str
    says_digest: str
    digest: str
    file_digest: str
    remade: bool | None
    differences: tuple[str, ...] = ()


@dataclass(frozen=True)
class FileWords:
    """Words that a file adds to those of its document, in the document's language.

    Attributes
    ----------
    contents, figures, definitions, signatures : str
        Headings.
    report, reported_by, frozen, period, zone, sequence, supersedes, digest : str
        Labels of the lines that say which report it is.
    until : str
        Between the first and the last day.
    section, sheet, about, table, figure, value, unit, uncertainty, covers, how, note : str
        Headings of columns; `covers` of half-intervals, `uncertainty` of reports from before.
    word, meaning : str
        Headings of the definitions.
    total : str
        Label of a row that sums up where it has none.
    more_rows : str
        Under a table that is too long to be set wholly, with ``{number}``.
    page : str
        Before a page's number.
    signed, date_and_place : str
        Under the lines to sign on.
    rounding : str
        How figures are written on paper.
    check : str
        How a file is checked.
    missing : str
        What a box in place of a letter means.
    made_to : str
        Which standards a PDF was made to.
    decimal : str
        The decimal mark.
    months : tuple of str
        Names of the twelve months.
    hows : tuple of (str, str)
        Where figures come from, each key with its words.
    """

    contents: str
    figures: str
    definitions: str
    signatures: str
    report: str
    reported_by: str
    frozen: str
    period: str
    zone: str
    sequence: str
    supersedes: str
    digest: str
    until: str
    section: str
    sheet: str
    about: str
    table: str
    figure: str
    value: str
    unit: str
    uncertainty: str
    covers: str
    how: str
    note: str
    word: str
    meaning: str
    total: str
    more_rows: str
    page: str
    signed: str
    date_and_place: str
    rounding: str
    check: str
    missing: str
    made_to: str
    decimal: str
    months: tuple[str, ...]
    hows: tuple[tuple[str, str], ...]
