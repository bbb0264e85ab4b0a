"""A frozen report as canonical JSON, and back; the report's SHA-256 is that of this text.

Canonical as RFC 8259 allows one way only: UTF-8, keys sorted, no spaces, numbers as shortest text
that reads back equal, no NaN. Equal reports give equal bytes.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import Any

from recycling.records.balance.covered import Covered
from recycling.records.reports.documents import Column, Document, Drawing, Fact, Section, Table
from recycling.records.reports.files import FrozenReport
from recycling.records.reports.question import ReportQuestion

FORMAT, VERSION = "regrind-ledger report", 1


def json_of(report: FrozenReport) -> str:
    """Write a report as canonical JSON.

    Raises
    ------
    ValueError
        When a figure is no number, as NaN.
    """
    held = asdict(report, dict_factory=_held)
    question, document = held.pop("question"), held.pop("document")
    return canonical(
        {
            "format": FORMAT,
            "version": VERSION,
            "report": held,
            "question": question,
            "document": document,
        }
    )


def _held(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Leave out what reports did not say when the first were frozen, where they say nothing."""
    return {key: value for key, value in pairs if key != "covered" or value is not None}


def canonical(held: Any) -> str:
    """Write plain data as canonical JSON."""
    return json.dumps(
        held,
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
        allow_nan=False,
        default=_written,
    )


def digest_of_text(text: str) -> str:
    """Return the SHA-256 of a text in UTF-8, in hexadecimal.

    Examples
    --------
    >>> digest_of_text("")[:8]
    'e3b0c442'
    """
    return hashlib.sha256(text.encode()).hexdigest()


def read_report(text: str) -> FrozenReport:
    """Read a report back from its JSON.

    Raises
    ------
    ValueError
        When the text is no report of this format.
    """
    try:
        held = json.loads(text)
        if held["format"] != FORMAT or held["version"] != VERSION:
            raise ValueError("this is another format, or another version of it")
        report = held["report"]
        return FrozenReport(
            report["code"],
            report["number"],
            datetime.fromisoformat(report["frozen_at"]),
            report["supersedes"],
            read_question(held["question"]),
            _document(held["document"]),
        )
    except (KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError(f"this is no report: {error!r}") from error


def read_question(held: dict[str, Any]) -> ReportQuestion:
    """Read a question back from plain data."""
    days = {name: date.fromisoformat(held[name]) for name in ("from_date", "to_date")}
    return ReportQuestion(**{**held, **days, "signed_by": tuple(held["signed_by"])})


def plain_question(question: ReportQuestion) -> dict[str, Any]:
    """Give a question as plain data that JSON can hold."""
    return json.loads(canonical(asdict(question)))


def _written(value: Any) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no written form")


def _document(held: dict[str, Any]) -> Document:
    moments = {name: datetime.fromisoformat(held[name]) for name in ("start_at", "end_at")}
    return Document(
        **{
            **held,
            **moments,
            "sections": tuple(_section(one) for one in held["sections"]),
            "definitions": tuple((word, said) for word, said in held["definitions"]),
            "signatures": tuple(held["signatures"]),
        }
    )


def _section(held: dict[str, Any]) -> Section:
    return Section(
        **{
            **held,
            "text": tuple(held["text"]),
            "facts": tuple(_fact(one) for one in held["facts"]),
            "tables": tuple(_table(one) for one in held["tables"]),
            "drawings": tuple(
                Drawing(**{**one, "values": tuple(one["values"])}) for one in held["drawings"]
            ),
        }
    )


def _fact(held: dict[str, Any]) -> Fact:
    said = held.get("covered")
    if said is None:
        return Fact(**held)
    return Fact(**{**held, "covered": Covered(**{**said, "because": tuple(said["because"])})})


def _table(held: dict[str, Any]) -> Table:
    total = held["total"]
    return Table(
        **{
            **held,
            "columns": tuple(Column(**one) for one in held["columns"]),
            "rows": tuple(tuple(row) for row in held["rows"]),
            "total": None if total is None else tuple(total),
        }
    )
