"""A report's statement against worked books.

Source: ``worked_book/book_120.json`` of the independent checks (invented data, every figure worked
out by a separate program). Nothing happened before the book or after its last entry, so a report
of whole days around it must say what the book says of its whole period.
"""

from __future__ import annotations

import json
import os
from datetime import date, datetime
from pathlib import Path

import pytest

from recycling.tables.entries_file import read_entries
from recycling.tasks.entries_load import entries_load
from tests.queries.reported import lines, report, table, total

ROOT = Path(__file__).resolve().parents[2]
BOOK = Path(os.environ.get("CHECKS_DIR", ROOT.parent / "shared" / "checks")) / "worked_book"


@pytest.mark.django_db
def test_the_statement_of_a_report_is_as_worked_out():
    file = BOOK / "book_120.json"
    if not file.exists():
        if os.environ.get("CI"):
            pytest.fail(f"the independent checks are missing: {file}")
        pytest.skip(f"the independent checks are not at {file}")
    text = file.read_text(encoding="utf-8")
    expected = json.loads(text)["expected"]["statements"][-1]
    loaded = entries_load("worked", read_entries(text))
    last = datetime.fromisoformat(expected["to"]).date()
    document = report(loaded.actor, date(2022, 1, 1), last)
    whole = total(table(document, "statement"))
    figures = {key: mass_mg for key, mass_mg in expected.items() if key not in ("from", "to")}
    assert len(figures) > 4
    assert {key: whole[key] for key in figures} == figures
    assert (whole["dispatched_mg"], whole["discarded_mg"], whole["reclassified_mg"]) == (0, 0, 0)
    stages = {line["stage"]: line for line in lines(table(document, "losses"))}
    assert sum(line["unaccounted_mg"] for line in stages.values()) == figures["unaccounted_mg"]
