"""What one answer shows was true at one moment, whoever writes while it is read."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from contextlib import contextmanager
from itertools import count

import pytest
from django.db import OperationalError, connection, connections
from django.test import Client

from recycling.ledger import snapshots
from recycling.models import DeviceKey, User
from recycling.queries.integrity.audit import audit
from recycling.records.runs.entries import CorrectionEntry
from recycling.services.runs.corrections import posting_correct
from tests.factories import KeyFactory, WorkshopFactory
from tests.histories import Told

pytestmark = pytest.mark.django_db(transaction=True)
STORY = """
C1: bottles PET 5kg
C2: bottles PET 5kg
R1 sort C1.1 4kg, C2.1 1kg -> clean bottles 4kg, ~residue 1g
R2 shred R1.1 all -> flake 3.9kg
R3 dry R2.1 all -> dried flake 3.8kg
R4 extrude R3.1 2kg -> filament 1.9kg spool
"""
PAGES = [
    "",
    "stock/",
    "stock/?format=csv",
    "lots/{C2.1}/",
    "lots/{C2.1}/?format=csv",
    "lots/{R2.1}/",
    "lots/{R4.1}/contents/",
    "lots/{R4.1}/lineage/",
    "runs/{R1}/",
    "runs/",
    "runs/?format=csv",
    "balance/",
    "balance/?format=csv",
    "collections/{C2}/",
    "spools/",
    "audit/",
]
API = [
    "lots/",
    "lots/{C2.1}/",
    "lots/{R4.1}/origins/",
    "lots/{R4.1}/ancestors/",
    "lots/{R4.1}/contents/",
    "runs/{R1}/",
    "runs/",
    "balance/now/",
    "collections/{C2}/",
    "collections/{C2}/spools/",
]
AFTER_READING = re.compile(r"(?i)\s*(SELECT|WITH)\b")
CHANGES_BY_ITSELF = re.compile(
    rb'name="(?:csrfmiddlewaretoken|idempotency_key)" value="[^"]*"|<time[^>]*>[^<]*</time>'
)


def apart(deed: Callable[[], object]) -> None:
    """Do something on a connection of its own, and wait for it."""
    failed = []

    def work() -> None:
        try:
            deed()
        except BaseException as error:
            failed.append(error)
        finally:
            connections.close_all()

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(60)
    assert not thread.is_alive() and not failed, failed


class Shop:
    """A workshop of which a page is read while a figure is corrected again and again."""

    def __init__(self) -> None:
        self.told = Told(WorkshopFactory()).tell(STORY)
        self.posting = self.told.posting("R1", "C2.1")
        self.masses = count(1_003_000, 3_000)
        actor = self.told.actor
        self.client = Client()
        self.client.force_login(
            User.objects.get(memberships__pk=actor.member_id), "recycling.web.people.People"
        )
        self.key = KeyFactory(actor=actor, scope="read").secret

    def address(self, path: str) -> str:
        for name, code in self.told.codes.items():
            path = path.replace(f"{{{name}}}", code)
        return path

    def get(self, path: str) -> bytes:
        if path.startswith("/api/"):
            answer = Client().get(path, headers={"Authorization": f"Bearer {self.key}"})
        else:
            answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        return CHANGES_BY_ITSELF.sub(b"", body)

    def correct(self) -> None:
        """Say that R1 drew some grams more of C2: all that descends follows."""
        entry = CorrectionEntry(self.posting, next(self.masses), "misread")
        apart(lambda: posting_correct(self.told.actor, entry))

    @contextmanager
    def corrected_after(self, reading: int):
        """Correct once the n-th statement that reads has its rows; yields what was met."""
        met: list[str] = []

        def follow(execute, sql, params, many, context):
            found = execute(sql, params, many, context)
            if AFTER_READING.match(sql):
                met.append(sql)
                if len(met) == reading:
                    self.correct()
            return found

        with connection.execute_wrapper(follow):
            yield met

    def contradictions(self, read: Callable[[], object]) -> tuple[int, int]:
        """Read with a correction after each statement in turn; count reads, and wrong ones.

        What is read must be what was there before the correction, or what is there after it.
        """
        before, wrong = read(), 0
        for reading in count(1):
            with self.corrected_after(reading) as met:
                seen = read()
            if len(met) < reading:
                assert reading > 1, "nothing was read"
                return reading - 1, wrong
            after = read()
            wrong += seen not in (before, after)
            before = after
        raise AssertionError("unreachable: a page asks no end of questions")


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("base", "paths"),
    [("/w/{slug}/", PAGES), ("/api/v1/", API)],
    ids=["pages", "api"],
)
def test_no_read_contradicts_itself(shop, base, paths):
    wrong = {}
    for path in paths:
        address = shop.address(base.format(slug=shop.told.actor.slug) + path)
        reads, mistaken = shop.contradictions(lambda address=address: shop.get(address))
        if mistaken:
            wrong[path] = f"{mistaken} of {reads} reads"
    assert not wrong


@pytest.mark.slow
def test_no_audit_beside_a_writer_is_wrong(shop):
    reads, wrong = 0, 0
    while reads < 40:
        more, mistaken = shop.contradictions(lambda: tuple(audit(shop.told.actor.workshop_id)))
        reads, wrong = reads + more, wrong + mistaken
    assert wrong == 0
    assert audit(shop.told.actor.workshop_id) == []


def test_a_read_keeps_no_writer_waiting_and_writes_what_it_must_afterwards(shop):
    """The session and the last use of a key are written around the moment, not in it."""
    shop.get("/api/v1/lots/")
    assert DeviceKey.objects.get().last_used_at is not None
    shop.client.session.flush()
    shop.client.force_login(User.objects.get(), "recycling.web.people.People")
    assert "workshop" not in shop.client.session
    shop.get(f"/w/{shop.told.actor.slug}/")
    assert shop.client.session["workshop"] == shop.told.actor.slug
    assert connection.get_autocommit()


def test_a_note_that_cannot_be_made_takes_no_answer_away(shop, monkeypatch):
    def refused(*args, **kwargs):
        raise OperationalError("database is locked")

    monkeypatch.setattr("django.db.models.query.QuerySet.update", refused)
    assert b"rows" in shop.get("/api/v1/lots/")


def test_a_book_that_is_away_is_said_by_each_door(shop, monkeypatch):
    @contextmanager
    def away():
        raise OperationalError("the server closed the connection")
        yield

    monkeypatch.setattr("recycling.queries.one_moment.snapshot", away)
    answer = Client().get("/api/v1/lots/", headers={"Authorization": f"Bearer {shop.key}"})
    assert (answer.status_code, answer["Retry-After"]) == (503, "1")
    assert answer.json()["type"].endswith("book-away")
    assert Client().get("/healthz").status_code == 200


def test_a_book_that_goes_away_once_all_is_read_takes_no_answer_away(shop, monkeypatch):
    @contextmanager
    def goes():
        with snapshots.snapshot():
            yield
        raise OperationalError("the server closed the connection")

    monkeypatch.setattr("recycling.queries.one_moment.snapshot", goes)
    assert b"rows" in shop.get("/api/v1/lots/")
