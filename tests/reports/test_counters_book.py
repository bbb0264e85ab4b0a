"""Three months with spools, scrap and winding waste ground up again, recorded through the services.

Source: ``tests/checks/counters_book.json`` (made for this project by a separate exact program;
invented data). Every figure is within 2 mg.
"""

from __future__ import annotations

import json
from datetime import date, datetime

import pytest
import time_machine

from recycling.models import Hold, Source, Spool
from recycling.queries.integrity.audit import audit
from recycling.records.lots.notes import HoldEntry
from recycling.records.quality.entries import FilamentEntry, VerdictEntry
from recycling.records.reports.question import PERIOD, ReportQuestion
from recycling.reports.fates import BOUGHT, OWN, POST, PRE, followed
from recycling.reports.movements import movements
from recycling.reports.scope import scope_of
from recycling.services.lots.holds import hold_place, hold_release
from recycling.services.quality.measurements import filament_measure
from recycling.services.quality.verdict_give import verdict_give
from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists.load import entries_load
from tests.checked import check_text

pytestmark = pytest.mark.django_db
NEAR_MG = 2
DAYS = [
    (date(2026, month, 1), date(2026, month, last)) for month, last in ((3, 31), (4, 30), (5, 31))
]
GOOD = tuple(1.75 + off / 1000 for off in (0, 4, -4, 8, -8, 3, -3, 6, -6, 0))
BAD = (1.40, 2.00, 1.62, 1.95, 1.55, 1.88, 1.75, 1.45, 1.90, 1.70)


@pytest.fixture(scope="module")
def book(module_book):
    told = json.loads(check_text("counters_book.json"))
    loaded = entries_load("counters", read_entries(json.dumps({"entries": told["entries"]})))
    Source.objects.update(kind="household")
    Source.objects.filter(name="a maker").update(kind="maker")
    Spool.objects.update(tolerance_mm=0.05)
    for one in told["tells"]:
        tell(loaded.actor, loaded.codes[one["lot"]], one)
    return loaded, told["expected_mg"]


def tell(actor, code: str, one: dict) -> None:
    with time_machine.travel(datetime.fromisoformat(one["at"]), tick=False):
        if one["tell"] == "check":
            values = GOOD if one["within"] else BAD
            filament_measure(actor, FilamentEntry(code, values, values))
        elif one["tell"] == "verdict":
            verdict_give(actor, VerdictEntry(code, one["verdict"] == "good", ("brittle",)))
        elif one["on"]:
            hold_place(actor, HoldEntry(code, "look at it"))
        else:
            hold = Hold.objects.get(lot__code=code, released_at=None)
            hold_release(actor, hold.pk, "it was nothing")


def followed_over(actor, first: int, last: int):
    question = ReportQuestion(PERIOD, DAYS[first][0], DAYS[last][1])
    return followed(movements(scope_of(actor, question)))


@pytest.mark.parametrize("month", [0, 1, 2])
def test_what_happened_in_each_month(book, month):
    loaded, expected = book
    told = followed_over(loaded.actor, month, month)
    own, post, pre = told.where(OWN), told.where(OWN, kinds=[POST]), told.where(OWN, kinds=[PRE])
    flow = {name: told.fates.flow(name, 0, 1) for name in told.fates.upto}
    at = {name: masses[1].sum() for name, masses in told.fates.at.items()}
    good = told.fates.good(1)
    assert {
        "collected": flow["collected"] @ own,
        "collected_pre": flow["collected"] @ pre,
        "accepted": flow["accepted"] @ own,
        "melted_first": flow["entered_melt"].sum(),
        "melted_first_dry": flow["entered_melt_dry"].sum(),
        "wound": flow["made"].sum(),
        "dispatched": flow["given"].sum(),
        "gain_in_melt": flow["gained_in_melt"].sum(),
        "month": month,
        "product_net": told.fates.product(0, 1).sum(),
        "made_good": told.fates.made_good(0, 1).sum(),
        "taken_back": told.fates.taken_back(0, 1).sum(),
        "good_so_far": good.sum(),
        "stock_unmelted": at["unmelted"],
        "stock_good": at["good"],
        "stock_failed_or_held": at["failed"] + at["held"],
        "stock_not_checked": at["not_judged"],
        "stock_scrap": at["melted"],
        "stock_heel": at["heel"],
        "stock_side_and_waste": at["side"],
        "good_post_consumer": good @ post,
        "good_pre_consumer": good @ pre,
        "good_not_recycled": good @ (told.where(BOUGHT) + told.gain),
    } == pytest.approx(expected["flow"][month], abs=NEAR_MG)


def test_what_became_of_the_grams_of_each_month(book):
    loaded, expected = book
    assert len(expected["cohort"]) == 6
    for row in expected["cohort"]:
        first, last = row["collected_in"], row["at_end_of"]
        told = followed_over(loaded.actor, first, last)
        mine, end = told.where(OWN, cuts=[1]), last - first + 1
        at = {name: masses[end] @ mine for name, masses in told.fates.at.items()}
        assert {
            "collected_in": first,
            "at_end_of": last,
            "collected": told.fates.upto["collected"][end] @ mine,
            "entered_melt": told.fates.upto["entered_melt"][end] @ mine,
            "good_product": told.fates.good(end) @ mine,
            "unmelted": at["unmelted"],
            "good": at["good"],
            "failed_or_held": at["failed"] + at["held"],
            "not_checked": at["not_judged"],
            "scrap": at["melted"],
            "heel": at["heel"],
            "side_and_waste": at["side"],
            "dispatched_good": at["given_good"],
            "dispatched_not_good": at["given_not_good"],
            "lost": at["lost"],
            "unaccounted": at["unaccounted"],
        } == pytest.approx(row, abs=NEAR_MG)


def test_the_audit_finds_nothing(book):
    assert audit(book[0].actor.workshop_id) == []
