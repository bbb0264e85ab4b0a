"""A deed takes the book's lock before it looks at anything."""

from __future__ import annotations

import threading

import pytest
from django.db import connection, transaction

from recycling.keeping.deed import deed
from recycling.ledger.post import lock_book
from recycling.models import Hold
from recycling.records.lots.notes import HoldEntry
from recycling.services.lots.holds import hold_place
from shared.errors import Forbidden
from tests.factories import OriginFactory, WorkshopFactory, with_scope

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_deed_waits_for_the_one_before_it():
    actor = WorkshopFactory()
    (lot,) = OriginFactory(actor=actor).lots
    failures: list[BaseException] = []

    def second() -> None:
        try:
            hold_place(actor, HoldEntry(lot.code, "smells"))
        except BaseException as error:
            failures.append(error)
        finally:
            connection.close()

    worker = threading.Thread(target=second)
    with transaction.atomic():
        lock_book(actor.workshop_id)
        worker.start()
        worker.join(0.5)
        assert worker.is_alive(), "it did not wait for the book"
        assert not Hold.objects.exists()
    worker.join(15)
    assert not failures
    assert Hold.objects.count() == 1


def test_other_books_do_not_wait_for_each_other():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one writer in, whatever the book")
    actor, other = WorkshopFactory(), WorkshopFactory()
    (lot,) = OriginFactory(actor=other).lots

    def second() -> None:
        hold_place(other, HoldEntry(lot.code, "smells"))
        connection.close()

    worker = threading.Thread(target=second)
    with transaction.atomic():
        lock_book(actor.workshop_id)
        worker.start()
        worker.join(10)
        assert not worker.is_alive()


def test_one_who_may_not_does_not_even_wait():
    actor, called = WorkshopFactory(), []

    @deed("void")
    def undo(actor) -> None:
        called.append(actor)

    with pytest.raises(Forbidden):
        undo(with_scope(actor, "record"))
    assert not called
