"""A report's plain reading of typed masses says the same of each as the book's other reading."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Q

from recycling.models import Weighing
from recycling.queries.balance.known_masses import Figure, figures
from recycling.queries.energy.runs import energies_of
from recycling.queries.energy.work import run_rows
from recycling.records.reports.question import PERIOD, ReportQuestion
from recycling.reports.counted import Surely, sure_of
from recycling.reports.movements import movements
from recycling.reports.scope import scope_of
from recycling.reports.work import _made
from tests.queries.random_books import RandomBook

pytestmark = pytest.mark.django_db
WHOLE, SPRING = (date(2024, 1, 1), date(2024, 6, 30)), (date(2024, 3, 1), date(2024, 4, 30))


@pytest.fixture(scope="module")
def actor(django_db_setup, django_db_blocker):
    """Have a random book in which every other draw took its lot as the book had it."""
    with django_db_blocker.unblock(), transaction.atomic():
        book = RandomBook(3, "Europe/Lisbon", purchases=True, floor_ppm=1)
        drawn = Weighing.objects.filter(posting__mass_mg__lt=0, posting__account__kind="lot")
        draws = list(drawn.order_by("pk").values_list("pk", flat=True))
        Weighing.objects.filter(pk__in=draws[::2]).update(how=Weighing.BY_BOOK)
        yield book.actor
        transaction.set_rollback(True)


def found_in(actor: Any, period: tuple[date, date]) -> Any:
    return movements(scope_of(actor, ReportQuestion(PERIOD, *period)))


def said(one: Figure) -> Surely:
    scale = one.known.scale.name if one.known.scale else ""
    first = (one.row["process_id"], one.sign, abs(one.mass_mg), one.known.how, one.sure.basis)
    return Surely(*first, one.by_book, scale, one.sure)


@pytest.mark.parametrize("period", [WHOLE, SPRING], ids=["whole", "spring"])
def test_both_readings_say_the_same_of_every_mass(actor, period):
    found = found_in(actor, period)
    start, end = found.scope.start, found.scope.end
    inside = Q(entry__happened_at__gte=start, entry__happened_at__lt=end)
    ended = Q(entry__process__run__ended_at__gte=start, entry__process__run__ended_at__lt=end)
    counted = Q(entry__process__run__stage="count")
    others = [said(one) for one in figures(actor.workshop_id, (inside | ended) & ~counted)]
    assert sure_of(found).figures == others
    assert {one.by_book for one in others} == {True, False}
    assert {one.sign for one in others} == {1, -1}
    assert all(one.sureness.u_mg > 0 for one in others if one.by_book)


def test_a_correction_is_in_the_mass_it_corrects(actor):
    found = found_in(actor, WHOLE)
    corrected = figures(actor.workshop_id, Q(corrections__isnull=False) | Q(corrects__isnull=False))
    changed = [one for one in corrected if one.mass_mg != one.row["mass_mg"]]
    assert changed
    known = sure_of(found).by_pair
    for one in changed:
        if one.row["kind"] == "lot":
            pair = one.row["process_id"], one.row["account_id"]
            assert abs(one.mass_mg) in {kept.mass_mg for kept in known[pair]}


def test_energy_takes_the_same_products_from_a_report(actor):
    found = found_in(actor, WHOLE)
    rows = run_rows(Q(workshop_id=actor.workshop_id))
    ours = energies_of(actor.workshop_id, rows, made=_made(found, sure_of(found)))
    assert rows
    assert ours.records == energies_of(actor.workshop_id, rows).records
    assert any(one.u_product_mg for one in ours.records.values())
