"""The months side by side on the balance page, and that they add up to its statement."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime

import pytest

from recycling.queries.balance.balance import statement
from recycling.queries.balance.months import months
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.services.lots.origin_record import origin_record
from tests.factories import KG, WorkshopFactory
from tests.histories import tell
from tests.queries.random_books import RandomBook
from tests.web.reading.reading_pages import csv_of, milligrams, table_of, text_of

pytestmark = pytest.mark.django_db
YEAR = datetime(2024, 1, 1, tzinfo=UTC), datetime(2025, 1, 1, tzinfo=UTC)
TWO_MONTHS = {"from": "2026-02-01", "to": "2026-03-31"}


def test_months_add_up_to_the_statement(db):
    book = RandomBook(5, "Pacific/Chatham", purchases=False, floor_ppm=1, deeds=60)
    found = months(book.actor, *YEAR)
    whole = statement(book.actor, *YEAR)[-1]
    assert len(found) >= 4
    assert [one.month for one in found] == sorted({one.month for one in found})
    assert sum(one.collected_mg for one in found) == whole.received_mg
    assert sum(one.dispatched_mg for one in found) == whole.dispatched_mg
    assert sum(one.discarded_mg for one in found) == whole.discarded_mg
    assert sum(one.unaccounted_mg for one in found) == whole.unaccounted_mg
    assert sum(one.lost_mg for one in found) == sum(whole.losses_mg.values())


def test_a_month_begins_at_the_workshops_midnight(db):
    """Hour 563 of a told history is 31 January, 19:00 UTC: half past midnight in Kolkata."""
    told = tell(
        "C1: bottles PET 1kg @563\nC2: bottles PET 2kg @564\nC3: bottles PET 4kg @560",
        WorkshopFactory(zone="Asia/Kolkata"),
    )
    found = {one.month: one.collected_mg for one in months(told.actor, *YEAR)}
    assert found == {"2024-01": 4 * KG, "2024-02": 3 * KG}


def test_what_a_months_runs_gave_stands_apart_from_what_they_drew(db):
    told = tell("""
    C1: bottles PET 5kg
    P1: pellets PET 1kg
    R1 sort C1.1 all -> clean bottles 4kg, caps HDPE 300g, reject 700g
    R2 shred R1.1 all -> flake 4kg
    R3 dry R2.1 all -> dried flake 4kg
    R4 extrude R3.1 all, P1.1 all -> filament 4.5kg spool, start-up scrap 500g
    R5 dispatch R4.1 1kg
    """)
    (one,) = months(told.actor, *YEAR)
    assert (one.collected_mg, one.filament_mg, one.dispatched_mg) == (5 * KG, 4.5 * KG, 1 * KG)
    assert (one.side_mg, one.waste_mg) == (0.3 * KG, 1.2 * KG)


def test_one_month_is_not_drawn(book, page):
    assert "The months side by side" not in text_of(page("balance/", **{"from": "2026-03-01"}))


def test_two_months_are_drawn_with_table_and_csv(book, page):
    entry = OriginEntry(
        "collection",
        datetime(2026, 2, 10, 9, tzinfo=UTC),
        (BagEntry(2 * KG),),
        source="North school",
    )
    origin_record(book.actor, entry)
    answer = page("balance/", **TWO_MONTHS)
    rows = table_of(answer, "The months side by side")
    assert [row[:2] for row in rows[1:]] == [["2026-02", "2.000"], ["2026-03", "10.700"]]
    cells = csv_of(page("balance/", format="csv", table="months", **TWO_MONTHS))
    assert [row["month"] for row in cells] == ["2026-02", "2026-03"]
    assert milligrams(cells[0]["collected, kg"]) == 2 * KG
    assert "months-drawing" in answer.content.decode()
    html = page("balance/", explore="months", **TWO_MONTHS).content.decode()
    figure = json.loads(re.search(r'id="months-data" type="application/json">(.*?)</', html)[1])
    assert figure["data"][0]["y"][1] == pytest.approx(milligrams(cells[1]["filament, kg"]) / KG)
    assert "Most filament was made in 2026-03" in text_of(answer)
