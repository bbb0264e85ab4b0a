"""Reading many tables as they stood at one moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction

_AS_READER = (
    "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY;"
    " SET LOCAL idle_in_transaction_session_timeout = '5min'"
)
"""A reader holds no lock that another waits for, so it may compute between two statements."""


@contextmanager
def snapshot() -> Iterator[None]:
    """Let every statement inside see the book as it was at the first one, and write nothing.

    Inside a transaction that goes on already nothing changes. What is to be written once the
    reading is done goes to ``transaction.on_commit``. SQLite's transactions here are writers
    from the start, so that one which only reads is told to begin as a reader.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute(_AS_READER)
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
            with _writing_nothing(engine.connection):
                yield
    finally:
        engine.transaction_mode = usual


@contextmanager
def _writing_nothing(file: Any) -> Iterator[None]:
    """Refuse writes as PostgreSQL does, else one would wait for, or fail by, another's."""
    file.execute("PRAGMA query_only = ON")
    try:
        yield
    finally:
        file.execute("PRAGMA query_only = OFF")
