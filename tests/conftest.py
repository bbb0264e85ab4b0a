"""Fixtures that every test may use."""

from __future__ import annotations

import os

import pytest

MANY_REQUESTS = 10_000_000
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
os.environ.setdefault("REQUESTS_A_MINUTE", str(MANY_REQUESTS))
os.environ.setdefault("WRONG_KEYS_A_MINUTE", str(MANY_REQUESTS))


@pytest.fixture(scope="session", autouse=True)
def quick_passwords():
    """Hash passwords quickly: no test measures how slow the real hasher is."""
    from django.conf import settings

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            settings, "PASSWORD_HASHERS", ["django.contrib.auth.hashers.MD5PasswordHasher"]
        )
        yield


@pytest.fixture(scope="session", autouse=True)
def guards_lifted_for_emptying():
    """Let Django empty the tables after a transactional test, and only then.

    The ledger's guards refuse DELETE on SQLite and TRUNCATE on PostgreSQL, as they should. They
    are lifted, the tables emptied and the guards set up again in one transaction, so that no
    other connection ever sees the book unguarded.
    """
    from django.db import connection, transaction

    from recycling.ledger import guards

    original = connection.ops.__class__.execute_sql_flush

    def emptied(ops, sql_list):
        with transaction.atomic(using=ops.connection.alias), guards.lifted(ops.connection):
            original(ops, sql_list)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(connection.ops.__class__, "execute_sql_flush", emptied)
        yield


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Keep PostgreSQL from counting rows of tables that tests fill and roll back.

    A count taken when every row of a table has been rolled back says "none" for as long as the
    next book lives, since that book is never committed; plans made for no rows then run for
    minutes. Without any count the planner goes by the size of the table, which is right.
    """
    from django.db import connection

    with django_db_blocker.unblock():
        if connection.vendor != "postgresql":
            return
        with connection.cursor() as cursor:
            for table in connection.introspection.table_names(cursor):
                name = connection.ops.quote_name(table)
                cursor.execute(f"ALTER TABLE {name} SET (autovacuum_enabled = false)")


@pytest.fixture(autouse=True)
def jobs_in_this_process(settings):
    """Do background jobs here unless a test asks for the broker that REDIS_URL names."""
    settings.REDIS_URL = ""


@pytest.fixture(scope="session", autouse=True)
def budgets_that_last():
    """Let tests ask as often as they need; what a budget does is tried in its own tests."""
    from django.conf import settings

    with pytest.MonkeyPatch.context() as patch:
        for name in ("REQUESTS_A_MINUTE", "WRONG_KEYS_A_MINUTE"):
            patch.setattr(settings, name, MANY_REQUESTS)
        yield


@pytest.fixture(autouse=True)
def english_again():
    """Leave no test in the language that a page was asked for in the one before."""
    from django.utils import translation

    yield
    translation.deactivate()


@pytest.fixture
def lead(db):
    """The lead of a workshop with an empty book."""
    from tests.factories import WorkshopFactory

    return WorkshopFactory()


@pytest.fixture(autouse=True)
def reading_writes_nothing(monkeypatch):
    """Hold every answer to a request that only reads to its moment: nothing is written in it.

    Most tests run inside a transaction, where a snapshot changes nothing; so they look at the
    statements.
    """
    from django.db import connection

    from recycling.web import one_moment

    def only_read(execute, sql, params, many, context):
        assert not sql.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE")), sql
        return execute(sql, params, many, context)

    real = one_moment.at_one_moment

    def watched(read):
        def reading():
            with connection.execute_wrapper(only_read):
                return read()

        return real(reading)

    monkeypatch.setattr(one_moment, "at_one_moment", watched)
