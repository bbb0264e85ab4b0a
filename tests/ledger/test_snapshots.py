"""A snapshot sees one moment, keeps no writer waiting, and writes nothing."""

from __future__ import annotations

import threading

import pytest
from django.db import DatabaseError, connection, transaction

from recycling.ledger.models import Book
from recycling.ledger.snapshots import snapshot


def in_another_thread(deed) -> None:
    failed = []

    def run() -> None:
        try:
            deed()
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert not failed


def write() -> None:
    with transaction.atomic():
        Book.objects.create(last_sequence=1)


@pytest.mark.django_db(transaction=True)
def test_what_is_written_meanwhile_is_not_seen_and_nobody_waits():
    with snapshot():
        before = Book.objects.count()
        in_another_thread(write)
        with transaction.atomic():
            assert Book.objects.count() == before
    assert Book.objects.count() == before + 1
    write()
    assert Book.objects.count() == before + 2


@pytest.mark.django_db(transaction=True)
def test_an_error_inside_leaves_the_connection_usable_and_nothing_is_written():
    with pytest.raises(ZeroDivisionError), snapshot():
        Book.objects.count()
        1 / 0
    write()
    with pytest.raises(DatabaseError, match="read-?only"), snapshot():
        write()
    assert Book.objects.count() == 1
