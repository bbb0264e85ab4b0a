"""Months add up to the year, givers and the rest to the whole, exactly, in every zone.

Books are random and told through the services. Six zones: with clock changes north and south, one
at midnight, one by half an hour, one of 45 minutes, and one without. Nothing here is rounded.
"""

from __future__ import annotations

import calendar
from collections import defaultdict
from datetime import date
from typing import Any

import pytest
from django.db import transaction

from recycling.ledger.models import Posting
from recycling.models import Programme, Source, Workshop
from recycling.queries.balance.balance import statement
from recycling.records.balance.balance import Statement
from recycling.records.reports.documents import Document
from recycling.records.reports.question import PERIOD, THANKS, ReportQuestion
from recycling.reports.counted import sure_of
from recycling.reports.counters import counts_of
from recycling.reports.fates import followed
from recycling.reports.melted import fresh_of
from recycling.reports.movements import Movements, movements
from recycling.reports.places import places_of
from recycling.reports.scope import Scope, scope_of
from recycling.reports.statement import statements_of
from tests.queries.random_books import ZONES, RandomBook
from tests.queries.reported import FATES, fact, has_table, lines, report, table, total

pytestmark = pytest.mark.django_db
FIRST, LAST = date(2024, 1, 1), date(2024, 6, 30)
MONTHS = [
    (date(2024, month, 1), date(2024, month, calendar.monthrange(2024, month)[1]))
    for month in range(1, 7)
]
LINES = (
    "opening_mg",
    "received_mg",
    "reclassified_mg",
    "dispatched_mg",
    "discarded_mg",
    "unaccounted_mg",
    "closing_mg",
    "in_process_mg",
)
MOVED = ("received_mg", "dispatched_mg", "discarded_mg", "unaccounted_mg", "reclassified_mg")
COUNTED = (
    "collected_mg",
    "accepted_mg",
    "entered_the_melt_mg",
    "good_product_mg",
    "dispatched_mg",
    "discarded_mg",
    "lost_mg",
    "unaccounted_mg",
)


class WithoutGiver(Scope):
    """Follows the collections that have no programme (or source)."""

    by = "programme_id"
    column = property(lambda self: self.by)
    key = property(lambda self: None)
    is_whole = property(lambda self: False)


BOOKS = [
    pytest.param((seed, zone), id=zone, marks=pytest.mark.slow if seed else ())
    for seed, zone in enumerate(ZONES)
]


@pytest.fixture(scope="module", params=BOOKS)
def book(request, django_db_setup, django_db_blocker):
    seed, zone = request.param
    with django_db_blocker.unblock(), transaction.atomic():
        yield RandomBook(seed + 1, zone, purchases=seed % 2 == 0, floor_ppm=seed % 3)
        transaction.set_rollback(True)


COLLECTED = "collected_by_source"


def scope(actor: Any, first: date = FIRST, last: date = LAST, **about: str) -> Scope:
    return scope_of(actor, ReportQuestion(PERIOD, first, last, **about))


def without_giver(actor: Any) -> Scope:
    whole = scope(actor)
    return WithoutGiver(whole.actor, whole.question, whole.cuts, whole.now, whole.sequence)


def by_programme(actor: Any) -> list[Movements]:
    names = Programme.objects.filter(workshop_id=actor.workshop_id).values_list("name", flat=True)
    each = [movements(scope(actor, programme=name)) for name in names]
    return [*each, movements(without_giver(actor))]


def by_source(actor: Any) -> list[Movements]:
    names = Source.objects.filter(workshop_id=actor.workshop_id).values_list("name", flat=True)
    return [movements(scope(actor, source=name)) for name in names]


def summed(parts: list[Movements], attribute: str = "mass_mg") -> dict[tuple, int]:
    sums: dict[tuple, int] = defaultdict(int)
    for part in parts:
        for one in part.inside:
            key = one.run_id, one.lot_id, one.account, one.polymer, one.cut
            sums[key] += getattr(one, attribute)
    return {key: mass_mg for key, mass_mg in sums.items() if mass_mg}


def test_the_book_is_worth_testing_on(book):
    kinds = set(
        Posting.objects.filter(entry__book_id=book.actor.workshop_id).values_list(
            "entry__process__run__stage", flat=True
        )
    )
    assert {"receive", "sort", "shred", "dry", "extrude", "count"} <= kinds
    deeds = set(
        Posting.objects.filter(entry__book_id=book.actor.workshop_id).values_list(
            "entry__kind", flat=True
        )
    )
    assert "correct" in deeds
    whole = movements(scope(book.actor))
    assert len({one.cut for one in whole.inside}) >= 4
    assert sum(1 for part in by_programme(book.actor) if part.inside) >= 2


def test_the_whole_is_the_balance_of_the_book(book):
    whole = movements(scope(book.actor))
    assert statements_of(whole) == statement(book.actor, whole.scope.start, whole.scope.end)


@pytest.mark.parametrize("parts", [by_programme, by_source])
def test_givers_and_the_rest_are_what_was_collected_in_every_movement(book, parts):
    whole = movements(scope(book.actor))
    each = parts(book.actor)
    assert summed(each) == summed([whole], "collected_mg")
    for lot_id in whole.stock:
        for place in (0, 1):
            mass_mg = whole.stock[lot_id][place]
            held = sum(part.part(lot_id, mass_mg) for part in each)
            assert held == whole.share(lot_id).of(mass_mg)
            assert 0 <= held <= mass_mg


def test_givers_and_the_rest_are_the_whole_statement_where_nothing_was_bought(book):
    if book.purchases:
        pytest.skip("what was bought is nobody's gift")
    whole = statements_of(movements(scope(book.actor)))[-1]
    for each in (by_programme(book.actor), by_source(book.actor)):
        found = [statements_of(part)[-1] for part in each]
        if _floor(book):
            assert sum(one.received_mg for one in found) == whole.received_mg
            continue
        for name in LINES:
            assert sum(getattr(one, name) for one in found) == getattr(whole, name), name
        for account in whole.losses_mg:
            held = sum(one.losses_mg[account] for one in found)
            assert held == whole.losses_mg[account], account


@pytest.mark.parametrize("parts", [by_programme, by_source])
def test_givers_and_the_rest_are_the_whole_at_every_counter_of_every_month(book, parts):
    whole = movements(scope(book.actor))
    fresh = fresh_of(whole)
    mixed = [one for one in fresh.marks.values() if 0 < one[2] < one[3]]
    assert mixed, "no lot holds melted and new material: nothing is tested here"
    counted = _counted(whole)
    found: dict[Any, int] = defaultdict(int)
    for part in parts(book.actor):
        for key, mass_mg in _counted(part).items():
            found[key] += mass_mg
    assert {key: mass for key, mass in found.items() if mass} == counted


def _counted(found: Movements) -> dict[Any, int]:
    by_month = counts_of(found, sure_of(found), followed(found)).by_month
    return {key: one.mass_mg for key, one in by_month.items() if one.mass_mg}


def _floor(book: RandomBook) -> int:
    return Workshop.objects.get(pk=book.actor.workshop_id).trace_floor_ppm


def test_each_givers_statement_closes_and_what_balances_it_is_rounding(book):
    for part in [*by_programme(book.actor), *by_source(book.actor)]:
        whole = statements_of(part)[-1]
        assert whole.difference_mg == 0
        postings = 2 * len(part.inside) + len(part.stock)
        floor = _floor(book) * sum(lot.made_mg for lot in part.lots.values()) // 1_000_000
        assert abs(whole.reclassified_mg) <= postings + 100 * floor


@pytest.mark.parametrize("about", [{}, {"programme": "Aim 1"}, {"source": "Giver 2"}])
def test_months_add_up_to_the_half_year(book, about):
    year = report(book.actor, FIRST, LAST, **about)
    months = [report(book.actor, *month, **about) for month in _begun(book, about)]
    whole = total(table(year, "statement"))
    parts = [total(table(one, "statement")) for one in months]
    for name in (*MOVED, "water_mg", "residue_mg", "dust_mg", "volatiles_mg"):
        assert sum(one[name] for one in parts) == whole[name], name
    for before, after in zip(parts, parts[1:], strict=False):
        assert before["closing_mg"] + before["in_process_mg"] == after["opening_mg"]
    for key in ("closing_mg", "in_process_mg"):
        assert parts[-1][key] == whole[key]
    inside = lines(table(year, "months"))[-len(parts) :]
    for line, month in zip(inside, months, strict=True):
        (alone,) = lines(table(month, "months"))
        assert alone == line
    for name in COUNTED:
        assert total(table(year, "months"))[name] == sum(line[name] for line in inside)


def _begun(book: RandomBook, about: dict[str, str]) -> list[tuple[date, date]]:
    """Leave out months before the book's first entry: a report of them is refused."""
    return [month for month in MONTHS if month[1] >= date(2024, 1, 8)]


@pytest.mark.parametrize("about", [{}, {"programme": "Aim 0"}])
def test_counters_by_polymer_and_by_month_add_up_to_the_same(book, about):
    document = report(book.actor, FIRST, LAST, **about)
    whole = {line["counter"]: line for line in lines(table(document, "counters"))}
    months = total(table(document, "months"))
    for title, key in zip(whole, COUNTED, strict=False):
        polymers = [
            line
            for line in lines(table(document, "counters_by_polymer"))
            if line["counter"] == title
        ]
        assert sum(line["mass_mg"] for line in polymers) == whole[title]["mass_mg"]
        assert months[key] == whole[title]["mass_mg"]


def test_what_flows_in_flows_out(book):
    for about in ({}, {"programme": "Aim 0"}, {"source": "Giver 1"}):
        document = report(book.actor, FIRST, LAST, **about)
        flows = lines(table(document, "flows"))
        middle = next(iter(about.values()), "Workshop")
        came = sum(line["mass_mg"] for line in flows if line["to"] == middle)
        went = sum(line["mass_mg"] for line in flows if line["from"] == middle)
        assert came == went
        assert all(line["mass_mg"] > 0 for line in flows)


def test_thanks_tell_of_all_that_was_there_and_came_in(book):
    """In the second half of the time, so that much was there already; rounding included."""
    told = 0
    for name in ("Giver 0", "Giver 1", "Giver 2"):
        document = report(book.actor, date(2024, 3, 1), LAST, kind=THANKS, source=name)
        found = {key: fact(document, key).value for key in ("opening_mg", "collected_mg", *FATES)}
        came = found["opening_mg"] + found["collected_mg"]
        assert sum(found[key] for key in FATES) == came
        told += came
    assert told


def test_the_way_ends_at_what_was_spooled(book):
    for about in ({}, {"source": "Giver 0"}):
        document = report(book.actor, FIRST, LAST, **about)
        steps = lines(table(document, "way"))
        assert steps[0]["left_mg"] + sum(s["change_mg"] for s in steps[1:]) == steps[-1]["left_mg"]
        made = _spooled(document)
        assert steps[-1]["left_mg"] == made
        assert not [step for step in steps if step["step"] == "Unaccounted"]


def _spooled(document: Document) -> int:
    made = has_table(document, "spools_made")
    return total(table(document, "spools_made"))["part_mg"] if made else 0


def test_places_are_the_statement_in_other_words(book):
    for about in ({}, {"programme": "Aim 2"}):
        found = movements(scope(book.actor, **about))
        places, whole = places_of(found), statements_of(found)[-1]
        assert isinstance(whole, Statement)
        assert sum(places.closing.values()) == whole.closing_mg
        assert sum(places.dispatched.values()) == whole.dispatched_mg
        assert sum(places.discarded.values()) == whole.discarded_mg
        assert sum(places.received.values()) == whole.received_mg


def test_the_target_is_measured_against_what_the_programme_collected(book):
    aims = [f"Aim {number}" for number in range(3)]
    aim, document = next(
        (aim, document)
        for aim in aims
        if has_table(document := report(book.actor, FIRST, LAST, programme=aim), COLLECTED)
    )
    so_far = fact(document, "programme_so_far_mg").value
    assert so_far == total(table(document, COLLECTED))["mass_mg"]
    assert fact(document, "target_reached_share").value == pytest.approx(so_far / 10_000_000)
    rows = lines(table(report(book.actor, FIRST, LAST), "programmes"))
    assert next(r for r in rows if r["programme"] == aim)["so_far_mg"] == so_far
