"""A database for each process that tests: migrated once a run, then copied."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection


@contextmanager
def database_of_its_own(shared: Path, worker: str) -> Iterator[None]:
    """Give one of several processes a copy of the database that the first of them migrated.

    The lock is kept while it is copied: PostgreSQL copies no database that somebody else uses.
    """
    before, creation = connection.settings_dict["NAME"], connection.creation
    made = shared / "database"
    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(shared / "book.sqlite3")
    with (shared / "database.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            made.write_text(_migrated())
        connection.close()
        template = connection.settings_dict["NAME"] = made.read_text()
        creation.clone_test_db(suffix=worker, verbosity=0, autoclobber=True)
    connection.settings_dict.update(creation.get_test_db_clone_settings(worker))
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = template
        creation.destroy_test_db(before, verbosity=0, suffix=worker)


@contextmanager
def database_alone() -> Iterator[None]:
    """Give the only process that tests a database."""
    before = connection.settings_dict["NAME"]
    _migrated()
    try:
        yield
    finally:
        connection.creation.destroy_test_db(before, verbosity=0)


def _migrated() -> str:
    """Make the database, and keep PostgreSQL from counting rows that tests roll back.

    A count taken when every row of a table has been rolled back says "none" for as long as the
    next book lives, since that book is never committed; plans made for no rows then run for
    minutes. Without any count the planner goes by the size of the table, which is right.
    """
    name = connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            for table in connection.introspection.table_names(cursor):
                table = connection.ops.quote_name(table)
                cursor.execute(f"ALTER TABLE {table} SET (autovacuum_enabled = false)")
    return name
