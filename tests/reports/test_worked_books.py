"""A report's statement against worked books.

Source: ``tests/checks/book_120.json`` (invented data, every figure worked out by a separate
program). Nothing happened before the book or after its last entry, so a report of whole days
around it must say what the book says of its whole period.
"""

from __future__ import annotations

import json
from datetime import date, datetime

import pytest

from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists.load import entries_load
from tests.checked import check_text
from tests.queries.reported import lines, report, table, total


@pytest.mark.django_db
def test_the_statement_of_a_report_is_as_worked_out():
    text = check_text("book_120.json")
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
