"""The plan: what some spools take, by the runs of a small book, and what is there."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.ledger.models import Entry
from recycling.queries.planning.plans import plan
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.lots.notes import HoldEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.holds import hold_place
from recycling.services.runs.run_record import run_record
from shared.errors import Refused
from tests.web.reading.reading_pages import text_of

MOST_QUERIES = 8


def figures(said: str) -> list[float]:
    return [float(one) for one in re.findall(r"\d+(?:\.\d+)?", said)]


def test_it_says_what_to_collect_and_what_is_possible_today(book, page, actor):
    found = plan(actor, 4, 1_000_000)
    said = text_of(page("plan/", spools="4", weight="1"))
    [sentence] = re.findall(r"For 4 spools of .*?bottles \([^)]*\)", said)
    _, weight, middle, low, high = figures(sentence)
    assert weight == 1.0
    assert low < middle < high
    assert middle == pytest.approx(found.bring.median / 1e6, abs=0.06)
    assert found.bring.median == pytest.approx(4e6 / found.chain[1], rel=0.01)
    assert f"{found.ready_spools} spools are possible today" in said
    assert "Gelman" in said


def test_it_rests_on_the_runs_that_were_recorded(book, actor):
    found = plan(actor)
    by_stage = {step.stage: step for step in found.steps}
    assert list(by_stage) == ["sort", "shred", "dry", "extrude"]
    assert found.polymer == "PET"
    assert found.assumed == any(not step.runs for step in found.steps)
    assert by_stage["extrude"].runs >= 1
    for step in found.steps:
        assert 0 < step.low <= step.median <= step.high <= 1
    low, middle, high = found.chain
    assert low < middle < high < min(step.high for step in found.steps)


def test_what_is_sorted_waits_for_the_next_step(book, actor):
    before = {step.stage: step.waiting_mg for step in plan(actor).steps}
    run_record(
        actor,
        RunEntry(
            started_at=book.at(300),
            ended_at=book.at(301),
            stage="sort",
            inputs=(DrawEntry(book.codes["late bag 1"], 500_000),),
            outputs=(OutputEntry("clean bottles", 400_000), OutputEntry("reject", 100_000, "PET")),
        ),
    )
    found = plan(actor)
    after = {step.stage: step.waiting_mg for step in found.steps}
    assert after["sort"] - before["sort"] == -500_000
    assert after["shred"] - before["shred"] == 400_000
    assert found.steps[0].runs == 2
    more = plan(actor, 4)
    assert more.bring.median - more.more.median == pytest.approx(
        700_000 + 400_000 / found.steps[0].median, rel=0.03
    )


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"spools": "0"}, "whole number from 1 to 500"),
        ({"spools": "two"}, "whole number from 1 to 500"),
        ({"spools": "²"}, "whole number from 1 to 500"),
        ({"spools": "1", "weight": "a lot"}, "kilograms from 0.01 to 25"),
        ({"spools": "1", "weight": "-1"}, "kilograms from 0.01 to 25"),
        ({"spools": "1", "weight": "30"}, "kilograms from 0.01 to 25"),
    ],
)
def test_what_cannot_be_is_told_and_kept(book, page, asked, told):
    answer = page("plan/", **asked)
    assert told in text_of(answer)
    for typed in asked.values():
        assert f'value="{typed}"' in answer.content.decode()


def test_a_comma_is_a_point(book, page):
    assert "of 750 g" in text_of(page("plan/", spools="2", weight="0,75"))


@pytest.mark.parametrize(("spools", "spool_mg"), [(0, 1_000_000), (501, 1_000_000), (1, 5)])
def test_the_query_refuses_what_no_workshop_makes(book, actor, spools, spool_mg):
    with pytest.raises(Refused):
        plan(actor, spools, spool_mg)


def test_a_plastic_without_runs_is_assumed_and_said_to_be(book, page, actor):
    found = plan(actor, polymer="PLA")
    assert found.assumed
    assert {step.runs for step in found.steps} == {0}
    assert found.there_spools == 0


def test_a_lot_on_hold_is_not_counted(book, actor):
    before = plan(actor).there_mg
    hold_place(actor, HoldEntry(book.codes["late bag 1"], "smells of glue"))
    assert before - plan(actor).there_mg == 1_200_000


def test_it_reads_little_and_writes_nothing(book, page, actor):
    before = Entry.objects.count()
    with CaptureQueriesContext(connection) as queries:
        plan(actor, 3)
    asked = [one["sql"].strip() for one in queries.captured_queries]
    assert all(one.startswith(("SELECT", "WITH RECURSIVE")) for one in asked), asked
    assert len(asked) <= MOST_QUERIES
    assert plan(actor, 3) == plan(actor, 3)
    page("plan/", spools="3")
    assert Entry.objects.count() == before


def test_the_day_leads_to_it(book, page):
    assert 'href="/w/quay/plan/"' in page("").content.decode()
