"""benchmark: the large book is a valid one, and both ways give the same answer."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from recycling.management.benchmark.book import benchmark_book
from recycling.management.benchmark.measure import Ratio, interleaved, table
from recycling.management.benchmark.reconciliation import reconciliation_ratios
from recycling.management.benchmark.recording import record_ratios
from recycling.models import Lot, ReconciledFlow, Run
from recycling.queries.balance.balance import balance_now
from recycling.queries.integrity.audit import audit
from recycling.records.setup.entries import SourceEntry
from recycling.services.setup.register import source_add

LOTS = 600


@pytest.fixture
def actor(db):
    return benchmark_book(LOTS, lambda text: None)


def test_the_book_is_valid_and_as_large_as_asked(actor):
    assert Lot.objects.filter(workshop_id=actor.workshop_id).count() >= LOTS
    assert audit(actor.workshop_id) == []
    assert balance_now(actor).total_mg == 0
    assert Run.objects.filter(stage="extrude", draws__lot__form="heel").exists()
    assert Run.objects.filter(stage="shred", draws__lot__form="oversize").exists()


def test_a_second_time_the_same_book_is_taken(actor):
    before = Lot.objects.count()
    assert benchmark_book(LOTS, lambda text: None) == actor
    assert Lot.objects.count() == before


def test_the_services_go_on_where_the_bulk_rows_end(actor):
    from recycling.management.benchmark.recording import six_postings
    from recycling.services.runs.run_record import run_record

    last = Lot.objects.order_by("-number").first()
    done = run_record(actor, six_postings(actor))
    assert all(int(lot.code[1:].split("-")[0]) > last.number for lot in done.lots)
    source_add(actor, SourceEntry("One more"))
    assert audit(actor.workshop_id) == []


@pytest.mark.slow
def test_a_reconciliation_is_kept_balances_exactly_and_agrees_with_the_library(actor):
    fit, kept = reconciliation_ratios(actor, 3)
    assert (fit.cases, fit.goal, kept.cases) == (3, 1.5, 3)
    assert ReconciledFlow.objects.count() > LOTS
    assert audit(actor.workshop_id) == []


def test_measuring_a_record_leaves_nothing_behind(actor):
    before = (Run.objects.count(), Lot.objects.count(), balance_now(actor))
    (ratio,) = record_ratios(actor, 3)
    assert ratio.cases == 3 and ratio.service_ms > 0 and ratio.anchor_ms > 0
    assert (Run.objects.count(), Lot.objects.count(), balance_now(actor)) == before
    assert audit(actor.workshop_id) == []


@pytest.mark.slow
def test_every_subject_is_measured_and_printed(actor):
    if connection.vendor == "postgresql":  # the test's own transaction waits while others compute
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")
    out = io.StringIO()
    call_command(
        *("benchmark", "all", "--lots", str(LOTS), "--cases", "3"),
        stdout=out,
        stderr=io.StringIO(),
    )
    lines = out.getvalue().splitlines()
    assert lines[0].endswith(f"at least {LOTS} lots in one workshop")
    for what in ("trace of a spool", "composition of a spool", "record a run", "deep in the list"):
        assert any(line.startswith(what) or what in line for line in lines)


def test_strict_exits_with_one_when_a_goal_is_missed(actor, monkeypatch):
    from recycling.management.commands import benchmark

    slow = Ratio("slow", "quick", 3.0, 1.0, 5, goal=1.3)
    monkeypatch.setitem(benchmark.SUBJECTS, "trace", lambda actor, cases: [slow])
    command = ("benchmark", "trace", "--lots", str(LOTS), "--cases", "3")
    call_command(*command, stdout=io.StringIO(), stderr=io.StringIO())
    with pytest.raises(SystemExit):
        call_command(*command, "--strict", stdout=io.StringIO(), stderr=io.StringIO())


@pytest.mark.django_db
def test_a_book_too_small_to_measure_is_refused():
    with pytest.raises(CommandError, match="measure nothing"):
        call_command("benchmark", "trace", "--lots", "10")


def test_ways_that_disagree_are_no_measurement():
    with pytest.raises(AssertionError, match="sums"):
        interleaved(
            *("sums", "the right ones", lambda n: n + 1, lambda n: n, range(3)),
            agree=lambda one, other: one == other,
        )


def test_a_missed_goal_is_marked():
    met = Ratio("a", "b", 1.2, 1.0, 5, goal=1.3)
    missed = Ratio("c", "b", 1.4, 1.0, 5, goal=1.3)
    assert (met.met, missed.met) == (True, False)
    assert [line.endswith("MISSED") for line in table([met, missed]).splitlines()[1:]] == [
        False,
        True,
    ]
