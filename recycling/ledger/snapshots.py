"""Reading many tables as they stood at one moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def snapshot() -> Iterator[None]:
    """Let every statement inside see the book as it was at the first one, and write nothing.

    Inside a transaction that goes on already nothing changes. SQLite's transactions here are
    writers from the start, so that one which only reads is told to begin as a reader.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        with _begun_as_reader():
            yield


@contextmanager
def _begun_as_reader() -> Iterator[None]:
    """Begin a transaction of SQLite that lets others write; it may hold savepoints as any other."""
    connection.ensure_connection()
    engine: Any = connection
    usual = engine.transaction_mode
    engine.transaction_mode = "DEFERRED"
    try:
        with transaction.atomic():
            engine.transaction_mode = usual
            yield
    finally:
        engine.transaction_mode = usual
