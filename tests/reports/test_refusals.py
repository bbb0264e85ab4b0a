"""What a report is refused for, and what it says where nothing is wrong with the question."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from recycling.models import Lot, Source
from recycling.records.reports.question import THANKS
from recycling.reports.scope import MOST_YEARS
from tests.factories import (
    KG,
    START,
    OriginFactory,
    ProgrammeFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.histories import tell
from tests.queries.reported import fact, has_table, lines, report, table, texts, total
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
DAY = START.date()


@pytest.fixture
def told(db):
    return tell("C1: bottles PET 5kg\nR1 sort C1.1 2kg -> clean bottles 2kg")


@pytest.mark.parametrize(
    ("asked", "code", "pointer"),
    [
        ({"last": DAY - timedelta(days=1)}, "period-backwards", "/to_date"),
        ({"first": date(2999, 1, 1)}, "period-in-future", "/from_date"),
        ({"last": date(DAY.year + MOST_YEARS + 1, 1, 1)}, "period-too-long", "/to_date"),
        ({"programme": "None such"}, "programme-unknown", "/programme"),
        ({"source": "None such"}, "source-unknown", "/source"),
        ({"counts_as": "burnt"}, "counter-unknown", "/counts_as"),
        ({"people_reached": -1}, "number-out-of-bounds", "/people_reached"),
        ({"kind": "novel"}, "report-kind-unknown", ""),
        ({"kind": THANKS}, "source-missing", "/source"),
        ({"first": date(2020, 1, 1), "last": date(2020, 1, 31)}, "report-of-nothing", "/to_date"),
    ],
)
def test_a_question_with_something_wrong_is_refused(told, asked, code, pointer):
    with refused(code, pointer=pointer):
        report(told.actor, **asked)


def test_all_that_is_wrong_is_said_at_once(told):
    with pytest.raises(Exception) as caught:
        report(told.actor, last=DAY - timedelta(days=1), source="None such", counts_as="burnt")
    assert [one.code for one in caught.value.problems] == [
        "counter-unknown",
        "period-backwards",
        "source-unknown",
    ]


def test_a_report_is_about_one_giver_at_most(told):
    ProgrammeFactory(actor=told.actor, name="One")
    with refused("report-about-both", pointer="/source"):
        report(told.actor, programme="One", source="Source of C1")


def test_another_workshops_source_is_unknown(told):
    stranger = WorkshopFactory()
    SourceFactory(actor=stranger, name="Only there")
    with refused("source-unknown", pointer="/source"):
        report(told.actor, source="Only there")


def test_stale_compositions_are_waited_for(told):
    Lot.objects.filter(code=told.code("R1.1")).update(stale=True)
    with refused("report-waits"):
        report(told.actor)


def test_a_period_without_entries_is_a_report_that_says_so(told):
    later = DAY + timedelta(days=60)
    document = report(told.actor, later, later)
    assert "Nothing was recorded in this period" in texts(document)
    assert fact(document, "collected_mg").value == 0
    whole = total(table(document, "statement"))
    assert whole["opening_mg"] == whole["closing_mg"] == 5 * KG
    assert not has_table(document, "spools_made")


def test_a_source_that_never_gave_gets_a_report_that_says_so(told):
    SourceFactory(actor=told.actor, name="New here")
    document = report(told.actor, kind=THANKS, source="New here")
    assert "Nothing was handed over in this period" in texts(document)
    assert fact(document, "collected_mg").value == 0


def test_a_period_that_is_not_over_gives_an_interim_report(told):
    today = timezone.now().date()
    assert "interim report" in texts(report(told.actor, DAY, today + timedelta(days=3)))
    assert "interim report" not in texts(report(told.actor))


def test_an_open_run_is_listed_and_said(told):
    told.tell("open R2 sort C1.1 1kg")
    document = report(told.actor)
    (line,) = lines(table(document, "open_runs"))
    assert (line["run"], line["inside_mg"]) == (told.code("R2"), 1 * KG)
    assert "1 run was open at the end of the period" in texts(document)
    assert total(table(document, "statement"))["in_process_mg"] == 1 * KG


def test_a_run_that_was_open_then_is_listed_though_it_closed_later(told):
    told.tell("open R2 sort C1.1 1kg @20\nclose R2 -> clean bottles 1kg @200")
    then, later = report(told.actor, last=DAY + timedelta(days=1)), report(told.actor, last=DAY)
    assert lines(table(then, "open_runs"))[0]["inside_mg"] == 1 * KG
    assert not has_table(later, "open_runs")
    whole = report(told.actor, last=DAY + timedelta(days=20))
    assert not has_table(whole, "open_runs")


def test_a_run_that_does_not_close_is_listed(told):
    told.tell("R3 sort C1.1 all -> clean bottles 1kg")
    document = report(told.actor)
    (line,) = lines(table(document, "runs_to_look_at"))
    assert (line["run"], line["unaccounted_mg"]) == (told.code("R3"), 2 * KG)
    assert fact(document, "to_look_at").value == 1
    assert fact(document, "closed_within_weighing").value == 1


def test_sources_and_receivers_are_named_only_with_consent(db):
    told = tell("C1: bottles PET 5kg\nC2: bottles PET 3kg\nC3: bottles PET 1kg")
    Source.objects.filter(name="Source of C2").update(may_be_named=True)
    told.tell("""
    R1 sort C1.1 all -> clean bottles 4kg, caps HDPE 1kg
    R2 dispatch R1.2 600g
    R3 dispatch R1.2 400g
    """)
    for run, receiver in (("R2", "Source of C2"), ("R3", "A person of note")):
        told.run(run).checks.filter(key="receiver").update(value=receiver)
    document = report(told.actor)
    assert [r["source"] for r in lines(table(document, "collected_by_source"))] == [
        "Source of C2",
        "Sources that are not named",
    ]
    handed = {r["where"]: r["mass_mg"] for r in lines(table(document, "handed_on"))}
    assert handed == {"Source of C2": 600_000, "A receiver that is not named": 400_000}
    said = repr(document)
    assert "Source of C1" not in said
    assert "A person of note" not in said


def test_kinds_of_few_sources_are_not_broken_out(db):
    told = tell("\n".join(f"C{number}: bottles PET {number}kg" for number in range(1, 7)))
    kinds = ["school", "school", "school", "shop", "shop", "bin"]
    for number, kind in enumerate(kinds, 1):
        Source.objects.filter(name=f"Source of C{number}").update(kind=kind)
    rows = lines(table(report(told.actor), "collected_by_kind"))
    assert [(r["kind"], r["sources"], r["mass_mg"]) for r in rows] == [
        ("School", 3, 6 * KG),
        ("Other kinds", 3, 15 * KG),
    ]
    Source.objects.filter(name="Source of C6").update(kind="school")
    assert not has_table(report(told.actor), "collected_by_kind")


def test_what_was_written_late_is_listed_by_its_dates(told):
    """Everything of a told history is written today, so today's report is about the past."""
    told.correct(told.posting("R1", "R1.1"), "1.9kg")
    OriginFactory(actor=told.actor, happened_at=timezone.now())
    today = timezone.now().date()
    rows = lines(table(report(told.actor, today, today), "corrections"))
    (corrected,) = [r for r in rows if r["kind"] == "Corrected" and r["what"] == told.code("R1.1")]
    assert (corrected["happened_day"], corrected["written_day"]) == (str(DAY), str(today))
    assert corrected["mass_mg"] == -100_000
    late = {r["what"]: r["mass_mg"] for r in rows if r["kind"] == "Entered late"}
    assert late["clean bottles"] == 2 * KG
    assert late["bottles"] == 3 * KG, "what happened today is not late"
    assert not has_table(report(told.actor), "corrections")
    assert "Nothing was written in this period about earlier ones." in texts(report(told.actor))


def test_a_voided_collection_is_none(told):
    told.tell("C9: bottles PET 7kg\nvoid C9.run")
    document = report(told.actor)
    assert fact(document, "collections").value == 1
    assert fact(document, "collected_mg").value == 5 * KG


def test_reading_takes_as_many_statements_for_more_work(told):
    def asked() -> list[str]:
        with CaptureQueriesContext(connection) as taken:
            report(told.actor)
        return sorted(re.sub(r"\d+", "", one["sql"])[:90] for one in taken)

    told.tell("R2 shred R1.1 all -> flake 2kg\nR3 dispatch R2.1 1kg\nR4 discard R2.1 200g")
    asked()
    before = asked()
    for number in range(10, 30):
        told.tell(
            f"C{number}: bottles PET 1kg\nR{number} sort C{number}.1 all -> clean bottles 1kg"
        )
        told.tell(f"R{number}0 shred R{number}.1 all -> flake 990g")
        told.tell(f"R{number}1 dispatch R{number}0.1 500g")
    assert asked() == before
    assert 0 < len(before) <= 40


def test_it_is_read_at_the_books_sequence(told):
    first = report(told.actor).sequence
    told.tell("C2: bottles PET 1kg")
    assert report(told.actor).sequence == first + 1
