"""Fixtures that every test may use."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

MANY_REQUESTS = 10_000_000
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
os.environ.setdefault("REQUESTS_A_MINUTE", str(MANY_REQUESTS))
os.environ.setdefault("WRONG_KEYS_A_MINUTE", str(MANY_REQUESTS))
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
"""Else each process, and each server that tests start, compiles all modules anew: half its time."""
ROOT = Path(__file__).resolve().parent.parent
MOST_PROCESSES = 8  # Redis has 16 databases, one for each, and each process takes half a gigabyte


def asked_by_path(config: pytest.Config) -> bool:
    """Tell whether somebody asks for files or tests of their choice, not for a tier."""
    return config.args_source is not pytest.Config.ArgsSource.TESTPATHS


def pytest_configure(config: pytest.Config) -> None:
    """Run all of a file that is asked for, slow or not, unless a tier is asked for too."""
    spread = hasattr(config, "workerinput")  # then it is decided already
    if not spread and asked_by_path(config) and "-m" not in config.invocation_params.args:
        config.option.markexpr = ""


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Spread the tests over the cores, but not those that somebody asks for by their path."""
    if asked_by_path(config):
        return 0
    return min(len(os.sched_getaffinity(0)), MOST_PROCESSES)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With BOOK_ONLY, leave out what asks no book: another database changes nothing of it."""
    if not os.environ.get("BOOK_ONLY"):
        return
    asking = [item for item in items if asks_the_book(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(asking)])
    items[:] = asking


def asks_the_book(item: pytest.Item) -> bool:
    """Tell whether a test wants a database of Django, by its mark or by a fixture."""
    fixtures = {"db", "transactional_db", "django_db_setup"} & {*getattr(item, "fixturenames", ())}
    return bool(fixtures or item.get_closest_marker("django_db"))


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node) -> None:
    """Give each process a folder and a broker's database of its own before it reads settings."""
    name = node.gateway.id
    data = Path(os.environ.get("DATA_DIR", ROOT / "var")) / "tests" / name
    data.mkdir(parents=True, exist_ok=True)
    own = {"DATA_DIR": str(data)}
    if broker := os.environ.get("REDIS_URL"):
        host, _, first = broker.rpartition("/")
        own["REDIS_URL"] = f"{host}/{int(first) + int(name.removeprefix('gw'))}"
    node.gateway.remote_exec(f"import os; os.environ.update({own!r})").waitclose()


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
def django_db_setup(django_test_environment, django_db_blocker, tmp_path_factory, worker_id):
    """Make the database, or copy the one that another process of this run has made."""
    from tests.databases import database_alone, database_of_its_own

    alone = worker_id == "master"
    shared = tmp_path_factory.getbasetemp().parent
    with django_db_blocker.unblock():
        book = database_alone() if alone else database_of_its_own(shared, worker_id)
        with book, django_db_blocker.block():
            yield


@pytest.fixture(scope="module")
def module_book(django_db_setup, django_db_blocker):
    """Let fixtures of a module write what all its tests read; it is taken back after the last.

    Each test that wants the database still has its own changes taken back. Threads and other
    processes see nothing of it: it is not for tests with ``transaction=True``.
    """
    from django.db import transaction

    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture(scope="session", autouse=True)
def jobs_in_this_process():
    """Do background jobs here unless a test asks for the broker that REDIS_URL names."""
    from django.conf import settings

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "REDIS_URL", "")
        yield


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
