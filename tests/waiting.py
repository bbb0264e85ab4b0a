"""Waiting for something, however slow the machine is."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction

PATIENCE_S = 180
"""When waiting is given up: no figure, only the end of a test that would never end."""

PATIENCE_MS = 1000 * PATIENCE_S
"""The same for browsers."""

WAITING = (
    "SELECT pid FROM pg_locks WHERE NOT granted AND relation = %s::regclass"
    " AND database = (SELECT oid FROM pg_database WHERE datname = current_database())"
)
"""Backends that wait for a table."""


def until(holds: Callable[[], Any], what: str, pause_s: float = 0.02) -> Any:
    """Wait until something holds and return it."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found = holds()
        if found:
            return found
        time.sleep(pause_s)
    raise AssertionError(f"waited for {what} in vain")


@contextmanager
def held_up(lock: str, nudge: Callable[[], Any] = bool) -> Iterator[None]:
    """Lock a table of PostgreSQL until somebody waits for it, and let go of it afterwards.

    `lock` is the table with its mode: "IN SHARE MODE" stops those who write, "IN ACCESS
    EXCLUSIVE MODE" those who read too. `nudge` makes somebody need it; it is called again
    when a slow machine made them give up.
    """
    polls = itertools.count()

    def waited_for() -> int:
        if next(polls) % 500 == 0:
            nudge()
        cursor.execute(WAITING, [lock.partition(" ")[0]])
        return cursor.rowcount

    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL lock_timeout = 0")
        cursor.execute("SET LOCAL statement_timeout = 0")
        cursor.execute(f"LOCK TABLE {lock}")
        until(waited_for, f"somebody who waits for {lock}")
        yield
