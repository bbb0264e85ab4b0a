"""What no longer stands is told again as it was, with what the standard has for it.

Sources: GS1 EPCIS 2.0, section 7.4.1.2 (error declarations), the official JSON schema, and the
reasons of the GS1 Core Business Vocabulary 2.0 (`did_not_occur`, `incorrect_data`).
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from recycling.models import MeterReading, ToldEnergy, Verdict
from recycling.queries.exchange.exports import exported
from recycling.records.exchange.exports import ExportWanted
from recycling.records.quality.entries import VerdictEntry
from recycling.services.energy.notes import logged_take_back
from recycling.services.exchange import energies_tell
from recycling.services.quality.verdict_decide import verdict_decide
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.runs.void import run_void
from recycling.tables.exchange.epcis import epcis_lines
from shared.errors import Forbidden
from tests.energy.conftest import Shop, shop  # noqa: F401, the fixture
from tests.factories import MemberFactory
from tests.histories import tell
from tests.queries.exported import assert_valid

pytestmark = pytest.mark.django_db
SPOOLS = """
C1: flake PET 5kg
P2: pellets PET 4kg
R1 dry C1.1 2kg -> dried flake 1990g, ~water 8g
R2 extrude R1.1 1kg -> filament 900g spool, heel 60g
"""


def told(actor, **wanted):
    """Tell the energies and read the file, which is valid; gives its events."""
    energies_tell(actor, ExportWanted(**wanted))
    return read(actor, **wanted)


def read(actor, **wanted):
    found = json.loads("".join(epcis_lines(exported(actor, ExportWanted(**wanted)))))
    assert_valid(found)
    return found["epcisBody"]["eventList"]


def kwh_of(event):
    reports = [r for e in event.get("sensorElementList", ()) for r in e["sensorReport"]]
    return next((r["value"] for r in reports if r["type"] == "Energy"), None)


def energies(events):
    return [(kwh_of(e), e.get("errorDeclaration")) for e in events if kwh_of(e) is not None]


def plain(event):
    return {key: value for key, value in event.items() if key != "errorDeclaration"}


def assert_follows(before, after):
    """Each event that was told is told again, word for word, but for what it is declared."""
    again = {event["eventID"]: event for event in after}
    assert len(again) == len(after)
    for event in before:
        assert plain(again[event["eventID"]]) == plain(event)


@pytest.fixture
def dried(shop):  # noqa: F811
    shop.reading("Oven", 0, 100)
    shop.reading("Oven", 2, 103)
    return shop.dry(shop.bag(), 0, 2)[0]


def test_an_energy_that_changed_is_declared_incorrect_and_corrected(shop, dried):  # noqa: F811
    first = told(shop.actor)
    assert energies(first) == [(3.0, None)]
    assert told(shop.actor) and ToldEnergy.objects.filter(kwh__gt=0).count() == 1
    shop.on(shop.part("Oven", "heater", 2000), 0, 1)
    shop.reading("Oven", 1, 102)
    assert energies(told(shop.actor)) == [(3.0, None)], "the sum is the same"
    shop.dry(shop.bag(), 1, 2)
    second = told(shop.actor)
    (old, wrong), (new, right), *_ = energies(second)
    assert_follows(first, second)
    assert old == 3.0 and new != 3.0 and right is None
    by = {kwh_of(event): event for event in second}
    assert wrong["reason"] == "incorrect_data"
    assert wrong["correctiveEventIDs"] == [by[new]["eventID"]]
    assert wrong["declarationTime"] == by[new]["recordTime"]
    assert_follows(second, told(shop.actor))


def test_reading_a_file_tells_nothing_and_says_so(shop, dried):  # noqa: F811
    with CaptureQueriesContext(connection) as asked:
        (before,) = [event for event in read(shop.actor) if kwh_of(event)]
    assert not [q["sql"] for q in asked if q["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
    assert before["sensorElementList"][0]["sensorReport"][0].pop("book:told") is False
    assert energies_tell(shop.actor, ExportWanted()).figures == 1
    assert energies_tell(shop.actor, ExportWanted()).figures == 0
    (after,) = [event for event in read(shop.actor) if kwh_of(event)]
    assert before | {"recordTime": ""} == after | {"recordTime": ""}


def test_an_energy_that_changed_is_right_in_a_file_before_it_is_told_again(shop, dried):  # noqa: F811
    first = told(shop.actor)
    last = MeterReading.objects.filter(taken_back_at=None).latest("read_at")
    logged_take_back(shop.actor, "reading", last.pk, "read off the wrong meter")
    shop.reading("Oven", 2, 104)
    second = read(shop.actor)
    (old, wrong), (new, right) = energies(second)
    assert (old, new, right) == (3.0, 4.0, None) and wrong["reason"] == "incorrect_data"
    assert_follows(first, second)
    assert list(ToldEnergy.objects.values_list("kwh", flat=True)) == [3.0]


def test_only_who_may_make_reports_tells(shop, dried):  # noqa: F811
    with pytest.raises(Forbidden):
        energies_tell(replace(shop.actor, role="viewer"), ExportWanted())
    assert not ToldEnergy.objects.exists()


def test_an_energy_that_is_known_no_more_did_not_occur_and_may_come_back(shop, dried):  # noqa: F811
    first = told(shop.actor)
    last = MeterReading.objects.filter(taken_back_at=None).latest("read_at")
    logged_take_back(shop.actor, "reading", last.pk, "read off the wrong meter")
    second = told(shop.actor)
    assert_follows(first, second)
    ((kwh, wrong),) = energies(second)
    assert (kwh, wrong["reason"]) == (3.0, "did_not_occur") and "correctiveEventIDs" not in wrong
    shop.reading("Oven", 2, 103)
    third = told(shop.actor)
    assert_follows(second, third)
    assert [(kwh, bool(wrong)) for kwh, wrong in energies(third)] == [(3.0, True), (3.0, False)]


def test_a_voided_run_did_not_occur_nor_its_energy(shop, dried):  # noqa: F811
    first = told(shop.actor)
    run_void(shop.actor, dried, "the wrong oven")
    second = told(shop.actor)
    assert_follows(first, second)
    of_run = [event for event in second if event.get("book:run") == dried]
    assert len(of_run) == 2 and {e["errorDeclaration"]["reason"] for e in of_run} == {
        "did_not_occur"
    }


def test_a_late_log_is_found_by_whoever_fetches_each_period(shop, dried):  # noqa: F811
    ended = told(shop.actor)[0]["eventTime"]
    now = timezone.now()
    with time_machine.travel(now + timedelta(days=40)):
        shop.dry(shop.bag(), 1, 2)
        since = now + timedelta(days=1)
        events = told(shop.actor, start=since, end=timezone.now() + timedelta(hours=1))
    (old, wrong), (new, right) = energies(events)[:2]
    assert old == 3.0 and wrong["reason"] == "incorrect_data" and right is None and new != old
    assert all(event["eventTime"] >= ended[:4] for event in events)


@pytest.fixture
def spool(db):
    return tell(SPOOLS)


def judged(events):
    """Say of each verdict in order whether it conforms, and what it is declared."""
    found = [e for e in events if e.get("disposition") in ("conformant", "non_conformant")]
    ids = [e["eventID"] for e in found]
    return [
        (
            e["disposition"],
            e.get("errorDeclaration", {}).get("reason", ""),
            [ids.index(i) for i in e.get("errorDeclaration", {}).get("correctiveEventIDs", ())],
        )
        for e in found
    ]


def test_a_verdict_that_its_giver_changed_is_corrected_by_the_next(spool):
    code = spool.code("R2.1")
    verdict_give(spool.actor, VerdictEntry(code, True))
    first = told(spool.actor)
    other = MemberFactory(actor=spool.actor, name="Bea", role="viewer")
    verdict_give(other, VerdictEntry(code, True))
    verdict_give(spool.actor, VerdictEntry(code, False, ("brittle",)))
    second = told(spool.actor, lot=code)
    assert_follows([e for e in first if e["eventID"] in {x["eventID"] for x in second}], second)
    assert judged(second) == [
        ("conformant", "incorrect_data", [2]),
        ("conformant", "", []),
        ("non_conformant", "", []),
    ]


def test_a_verdict_that_was_set_aside_did_not_occur_and_may_count_again(spool):
    now = timezone.now()
    waiting = Verdict.objects.create(
        lot=spool.lot("R2.1"), good=True, giver="x" * 64, given_at=now, state=Verdict.WAITING
    )
    assert judged(told(spool.actor)) == []
    verdict_decide(spool.actor, waiting.pk, True)
    first = told(spool.actor)
    assert judged(first) == [("conformant", "", [])]
    verdict_decide(spool.actor, waiting.pk, False, "a joke")
    second = told(spool.actor)
    assert_follows(first, second)
    assert judged(second) == [("conformant", "did_not_occur", [])]
    verdict_decide(spool.actor, waiting.pk, True)
    third = told(spool.actor)
    assert_follows(second, third)
    assert judged(third) == [("conformant", "did_not_occur", []), ("conformant", "", [])]


def test_a_lot_that_is_followed_tells_of_runs_that_no_longer_draw_on_it():
    book = tell("C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3.9kg\n")
    book.tell("R2 shred R1.1 1kg -> flake 990g\nR3 dry R2.1 all -> dried flake 980g, ~water 9g")
    code = book.code("C1.1")
    first = told(book.actor, lot=code, forward=True)
    book.tell("void R3\nvoid R2")
    second = told(book.actor, lot=code, forward=True)
    assert_follows(first, second)
    wrong = {e.get("book:run") for e in second if "errorDeclaration" in e}
    assert wrong == {book.code("R2"), book.code("R3")}
    back = told(book.actor, lot=book.code("R3.1"))
    assert [e["errorDeclaration"]["reason"] for e in back] == ["did_not_occur"]


def test_one_spool_reads_only_what_belongs_to_it(spool):
    """Rows of other lots are not fetched: the statements name the lots, or the period."""
    code, other = spool.code("R2.1"), spool.code("R1.1")
    for number in range(3):
        giver = MemberFactory(actor=spool.actor, name=f"G{number}", role="viewer")
        verdict_give(giver, VerdictEntry(code, True))
    spool.tell("hold C1.1\nrelease C1.1")
    with CaptureQueriesContext(connection) as asked:
        told(spool.actor, lot=spool.code("P2.1"))
    tables = ("recycling_verdict", "recycling_hold", "recycling_lotevent")
    read = [q["sql"] for q in asked if any(f'FROM "{table}"' in q["sql"] for table in tables)]
    assert len(read) == 3 and all(spool.code("P2.1") in sql for sql in read)
    assert not [sql for sql in read if code in sql or other in sql]
