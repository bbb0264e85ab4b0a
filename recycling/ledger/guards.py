"""Triggers that keep the ledger's promises in the database itself, on both engines."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

SEALED = "postings of a sealed entry cannot be added to"
UNBALANCED = "the postings of an entry must add up to zero"
STRANGERS = "the postings of an entry must stay inside its book"
APPEND_ONLY = "the ledger is append-only: post a correction instead"

_SUM = "(SELECT COALESCE(SUM(mass_mg), 1) FROM ledger_posting WHERE entry_id = NEW.id) <> 0"
_STRANGERS = (
    "EXISTS (SELECT 1 FROM ledger_posting p JOIN ledger_account a ON a.id = p.account_id"
    " WHERE p.entry_id = NEW.id AND a.book_id <> NEW.book_id)"
)
_SEALED = "EXISTS (SELECT 1 FROM ledger_entry WHERE id = NEW.entry_id)"

_EPOCH = 1 << 32
"""Transactions are numbered anew after so many; a row keeps the short number."""

TABLES = ["ledger_entry", "ledger_posting"]
"""Tables whose rows are never changed or removed; other rooms add theirs."""

_SQLITE: dict[str, str] = {
    "guard_entry_balance": f"BEFORE INSERT ON ledger_entry WHEN {_SUM}"
    f" BEGIN SELECT RAISE(ABORT, '{UNBALANCED}'); END",
    "guard_entry_book": f"BEFORE INSERT ON ledger_entry WHEN {_STRANGERS}"
    f" BEGIN SELECT RAISE(ABORT, '{STRANGERS}'); END",
    "guard_posting_seal": f"BEFORE INSERT ON ledger_posting WHEN {_SEALED}"
    f" BEGIN SELECT RAISE(ABORT, '{SEALED}'); END",
}

_POSTGRES_FUNCTIONS = f"""
CREATE OR REPLACE FUNCTION ledger_seal() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF {_SUM} THEN RAISE EXCEPTION '{UNBALANCED}' USING ERRCODE = '23514'; END IF;
  IF {_STRANGERS} THEN RAISE EXCEPTION '{STRANGERS}' USING ERRCODE = '23514'; END IF;
  RETURN NEW; END $$;
CREATE OR REPLACE FUNCTION ledger_sealed() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF {_SEALED} THEN RAISE EXCEPTION '{SEALED}' USING ERRCODE = '23514'; END IF;
  RETURN NEW; END $$;
CREATE OR REPLACE FUNCTION ledger_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = '23514'; END $$;
CREATE OR REPLACE FUNCTION ledger_at_commit() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF {_SUM} THEN RAISE EXCEPTION '{UNBALANCED}' USING ERRCODE = '23514'; END IF;
  RETURN NULL; END $$;
CREATE OR REPLACE FUNCTION ledger_posting_at_commit() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  own bigint := pg_current_xact_id()::text::bigint;
  sealed bigint;
BEGIN
  SELECT own - own % {_EPOCH} + xmin::text::bigint INTO sealed
    FROM ledger_entry WHERE id = NEW.entry_id;
  IF sealed > own + {_EPOCH} / 2 THEN sealed := sealed - {_EPOCH}; END IF;
  IF pg_xact_status(sealed::text::xid8) = 'committed' THEN
    RAISE EXCEPTION '{SEALED}' USING ERRCODE = '23514';
  END IF;
  RETURN NULL; END $$;
"""

_POSTGRES: dict[str, str] = {
    "guard_entry_seal": "BEFORE INSERT ON ledger_entry FOR EACH ROW EXECUTE FUNCTION ledger_seal()",
    "guard_posting_seal": "BEFORE INSERT ON ledger_posting FOR EACH ROW"
    " EXECUTE FUNCTION ledger_sealed()",
    "guard_entry_commit": "AFTER INSERT ON ledger_entry DEFERRABLE INITIALLY DEFERRED FOR EACH ROW"
    " EXECUTE FUNCTION ledger_at_commit()",
    # a transaction that was open when the seal was set saw none; its own commit sees it
    "guard_posting_commit": "AFTER INSERT ON ledger_posting DEFERRABLE INITIALLY DEFERRED"
    " FOR EACH ROW EXECUTE FUNCTION ledger_posting_at_commit()",
}


def _triggers(vendor: str) -> dict[str, str]:
    """Map the name of every trigger of an engine to what stands behind its name."""
    if vendor == "sqlite":
        return _SQLITE | {
            f"guard_{table}_{deed.lower()}": f"BEFORE {deed} ON {table}"
            f" BEGIN SELECT RAISE(ABORT, '{APPEND_ONLY}'); END"
            for table in TABLES
            for deed in ("UPDATE", "DELETE")
        }
    return _POSTGRES | {
        f"guard_{table}_{deed.lower()}": f"BEFORE {deed} ON {table} FOR EACH STATEMENT"
        " EXECUTE FUNCTION ledger_append_only()"
        for table in TABLES
        for deed in ("UPDATE", "DELETE", "TRUNCATE")
    }


def names(vendor: str) -> set[str]:
    """Name the triggers that must stand on an engine."""
    return set(_triggers(vendor))


def _table(body: str) -> str:
    return body.partition(" ON ")[2].split()[0]


def install(connection: Any) -> None:
    """Set up every guard of the tables that there are."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTIONS)
        for name, body in _triggers(connection.vendor).items():
            if _table(body) not in tables:
                continue
            constraint = "CONSTRAINT " if "DEFERRABLE" in body else ""
            _drop(cursor, connection.vendor, name, body)
            cursor.execute(f"CREATE {constraint}TRIGGER {name} {body}")


def lift(connection: Any) -> None:
    """Take every guard away: for a migration that rebuilds a table, and for emptying tests."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for name, body in _triggers(connection.vendor).items():
            if _table(body) in tables:
                _drop(cursor, connection.vendor, name, body)


def _drop(cursor: Any, vendor: str, name: str, body: str) -> None:
    table = f" ON {_table(body)}" if vendor == "postgresql" else ""
    cursor.execute(f"DROP TRIGGER IF EXISTS {name}{table}")


@contextmanager
def lifted(connection: Any) -> Iterator[None]:
    """Lift the guards for a while and put them back whatever happens."""
    lift(connection)
    try:
        yield
    finally:
        install(connection)


def missing(connection: Any) -> set[str]:
    """Name the guards that do not stand in this database."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return names(connection.vendor) - {row[0] for row in cursor.fetchall()}
