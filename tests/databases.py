"""A database for each process that tests: migrated once, then copied."""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / "var" / "tests"
QUIETLY = {"verbosity": 0, "serialize": False}


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
    """Make the database; on SQLite from the copy that an earlier run kept, where it still fits."""
    if connection.vendor == "postgresql":
        return _uncounted(connection.creation.create_test_db(**QUIETLY, autoclobber=True))
    name = connection.settings_dict["TEST"]["NAME"]
    for old in (name, f"{name}-wal", f"{name}-shm"):
        Path(old).unlink(missing_ok=True)
    kept = KEPT / f"book-{_recipe()}.sqlite3"
    if kept.exists():
        shutil.copy(kept, name)
    connection.creation.create_test_db(**QUIETLY, keepdb=True)
    connection.close()
    if not kept.exists():
        KEPT.mkdir(parents=True, exist_ok=True)
        for stale in KEPT.glob("book-*.sqlite3"):
            stale.unlink(missing_ok=True)
        shutil.copy(name, f"{kept}.{os.getpid()}")
        os.replace(f"{kept}.{os.getpid()}", kept)
    return name


def _recipe() -> str:
    """Sum up all that decides what migrating makes: migrations, guards, models, libraries."""
    made = hashlib.sha256()
    for place in ("recycling/migrations", "recycling/models", "recycling/ledger"):
        for path in sorted((ROOT / place).rglob("*.py")):
            made.update(path.read_bytes())
    for name in ("recycling/settings.py", "requirements.txt"):
        made.update((ROOT / name).read_bytes())
    return made.hexdigest()[:16]


def _uncounted(name: str) -> str:
    """Keep PostgreSQL from counting rows of tables that tests fill and roll back.

    A count taken when every row of a table has been rolled back says "none" for as long as the
    next book lives, since that book is never committed; plans made for no rows then run for
    minutes. Without any count the planner goes by the size of the table, which is right.
    """
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            table = connection.ops.quote_name(table)
            cursor.execute(f"ALTER TABLE {table} SET (autovacuum_enabled = false)")
    return name
