"""The files of a frozen report: made from its JSON alone, the same bytes each time."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

from recycling.figures.document_svg import document_svgs
from recycling.records.reports.files import CSV, FILES, HTML, JSON, PDF, XLSX, FrozenReport
from recycling.reports.words import file_words
from recycling.tables.reports.csv_file import csv_of
from recycling.tables.reports.html_file import html_of
from recycling.tables.reports.json_file import digest_of_text, read_report
from recycling.tables.reports.layout import MARK
from recycling.tables.reports.pdf_file import pdf_of
from recycling.tables.reports.xlsx_file import xlsx_of

CONTENT_TYPES = {
    JSON: "application/json",
    PDF: "application/pdf",
    XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    CSV: "text/csv; charset=utf-8",
    HTML: "text/html; charset=utf-8",
}


def files_of(body: str) -> dict[str, bytes]:
    """Make every file of a report from its JSON.

    Raises
    ------
    ValueError
        When the text is no report.
    recycling.tables.reports.pdf_file.NotSet
        When no PDF can be made of it.
    """
    makers = _makers(body)
    return {kind: makers[kind]() for kind in FILES}


def file_of(body: str, kind: str, mark: str = MARK) -> bytes:
    """Make one file of a report from its JSON; raises as :func:`files_of` does.

    `mark` is how it names its layout: a file of before is made again with the mark that it bears.
    """
    return _makers(body, mark)[kind]()


def _makers(body: str, mark: str = MARK) -> dict[str, Callable[[], bytes]]:
    report, digest = read_report(body), digest_of_text(body)
    words = file_words(report.document.language)
    svgs = cache(partial(document_svgs, report.document))
    return {
        PDF: lambda: pdf_of(report, body, digest, words, svgs(), mark),
        XLSX: lambda: xlsx_of(report, digest, words, mark),
        CSV: lambda: csv_of(report, digest).encode(),
        JSON: body.encode,
        HTML: lambda: html_of(report, body, digest, words, svgs(), mark).encode(),
    }


def file_name(report: FrozenReport, kind: str) -> str:
    """Name a file of a report: by its code and period."""
    asked = report.question
    return f"{report.code}-{asked.from_date}-{asked.to_date}.{kind}"
