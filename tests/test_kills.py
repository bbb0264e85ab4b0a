"""Kill -9 amid writes: nothing acknowledged is lost, nothing is half, nothing is twice.

``KILLS`` sets how many of each; it is printed with what came of them.
"""

from __future__ import annotations

import http.client
import itertools
import os
import re
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection

from recycling.ledger.models import Entry
from recycling.models import Answer as Kept
from recycling.models import Origin, Run
from recycling.queries.integrity.audit import audit
from recycling.records.lots.origin_entries import BagEntry
from tests.factories import (
    KG,
    START,
    G,
    KeyFactory,
    OriginFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.serving import Answer, Caller, served
from tests.waiting import WAITING, held_up, until

KILLS = int(os.environ.get("KILLS", "4"))
CLIENTS = 6
AMID = 3
"""So many deeds are answered between one kill and the next, so that each one meets some."""
ANSWERS = "recycling_answer"
WRITERS = (
    "SELECT pid FROM pg_stat_activity WHERE datname = current_database()"
    " AND pid <> pg_backend_pid() AND backend_xid IS NOT NULL LIMIT 1"
)
AWAY = (OSError, http.client.HTTPException)
pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@dataclass
class Sent:
    """A deed that a client sent under a key, and what it heard of it."""

    path: str
    body: dict[str, Any]
    key: str
    answer: Answer | None = None


@dataclass
class Crowd:
    """Clients that record collections and runs until they are told to stop."""

    port: int
    sent: list[Sent] = field(default_factory=list)
    told: Counter[str] = field(default_factory=Counter)
    failures: list[BaseException] = field(default_factory=list)
    over: threading.Event = field(default_factory=threading.Event)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.actor = WorkshopFactory()
        self.key = KeyFactory(actor=self.actor, scope="manage").secret
        SourceFactory(actor=self.actor, name="Hillside School")
        bags = tuple(BagEntry(100 * KG) for _ in range(CLIENTS))
        self.lots = [lot.code for lot in OriginFactory(actor=self.actor, bags=bags).lots]

    @contextmanager
    def at_work(self) -> Iterator[None]:
        """Have the clients work while something is done to the service."""
        threads = [threading.Thread(target=self._client, args=(n,)) for n in range(CLIENTS)]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self.over.set()
            for thread in threads:
                thread.join()
        if self.failures:
            raise self.failures[0]

    def more_answers(self) -> None:
        """Wait until a few more deeds are answered."""
        before = self.told["acknowledged"]
        until(
            lambda: self.failures or self.told["acknowledged"] >= before + AMID,
            "acknowledged deeds",
        )

    def _client(self, place: int) -> None:
        try:
            for turn in itertools.count():
                if self.over.is_set():
                    return
                one = self._deed(place, turn)
                self.sent.append(one)
                if not self.ask(one) and turn % 3:
                    until(lambda one=one: self.over.is_set() or self.ask(one), "an answer")
        except BaseException as error:
            self.failures.append(error)

    def _deed(self, place: int, turn: int) -> Sent:
        at, key = START.replace(hour=12).isoformat(), f"deed {place} {turn}"
        if turn % 2:
            bags = [{"polymer": "PET", "mass_mg": KG}, {"polymer": "PET", "mass_mg": 2 * KG}]
            body = {"source": "Hillside School", "collected_at": at, "bags": bags}
            return Sent("/collections/", body, key)
        body = {"stage": "sort", "started_at": at, "ended_at": at}
        body["inputs"] = [{"lot": self.lots[place], "mass_mg": 10 * G}]
        body["outputs"] = [{"form": "clean bottles", "mass_mg": 9 * G}]
        return Sent("/runs/", body, key)

    def ask(self, one: Sent) -> bool:
        """Send a deed; say whether it was acknowledged. Other answers may only put it off."""
        caller = Caller(self.port, self.key)
        try:
            answer = caller.post(one.path, one.body, one.key)
        except AWAY:
            self._note("unknown")
            return False
        finally:
            caller.connection.close()
        if answer.status in (409, 503):
            assert answer.codes <= {"key-running", "book-away", "book-busy"}, answer.body
            self._note(f"told {answer.status}")
            return False
        assert answer.status == 201, answer.body
        assert one.answer is None or one.answer == answer, "another answer to the same key"
        self._note("acknowledged")
        one.answer = answer
        return True

    def _note(self, what: str) -> None:
        with self.lock:
            self.told[what] += 1

    def back(self) -> float:
        """Return after how many seconds something is written again."""
        before = time.monotonic()
        one = Sent("/runs/", self._deed(0, 0).body, f"back {before}")
        self.sent.append(one)
        until(lambda: self.ask(one), "the service")
        return time.monotonic() - before

    # What must be true afterwards

    def adds_up(self) -> None:
        """Hold the book to what was acknowledged, then send all again and hold it once more."""
        until(nobody_writes, "the end of what the killed had begun")
        acknowledged = [one for one in self.sent if one.answer]
        left = [one for one in self.sent if not one.answer]
        assert acknowledged
        for one in acknowledged:
            assert self._written(one) == 1, f"{one.key} was acknowledged and is not there"
        self.told["whole"] = sum(map(self._written, left))
        self.told["absent"] = len(left) - self.told["whole"]
        assert audit(self.actor.workshop_id) == []
        for one in self.sent:
            until(lambda one=one: self.ask(one), "an answer")
        assert [self._written(one) for one in self.sent] == [1] * len(self.sent)
        assert audit(self.actor.workshop_id) == []
        book = {"workshop_id": self.actor.workshop_id}
        runs = [one for one in self.sent if one.path == "/runs/"]
        assert Run.objects.filter(stage="sort", **book).count() == len(runs)
        others = len(self.sent) - len(runs)
        assert Origin.objects.filter(kind="collection", **book).count() == others

    def _written(self, one: Sent) -> int:
        """Count the entries of a key; each stands with its answer or not at all."""
        book = self.actor.workshop_id
        entries = Entry.objects.filter(book_id=book, key=one.key).count()
        assert entries == Kept.objects.filter(workshop_id=book, key=one.key).count(), one.key
        return entries


@pytest.fixture
def crowd(tmp_path):
    """Clients of a served workshop in which something was written."""
    with served(tmp_path, 2, 4, "--preload") as port:
        crowd = Crowd(port)
        crowd.back()
        yield crowd


@pytest.fixture
def say(capsys):
    """Print a line that is seen in any case."""

    def line(text: str) -> None:
        with capsys.disabled():
            print(f"\n{connection.vendor}: {text}", end=" ")  # noqa: T201

    return line


def begun(log: Path) -> list[int]:
    """List the workers that the server began, in order."""
    return [int(pid) for pid in re.findall(r"Booting worker with pid: (\d+)", log.read_text())]


def test_a_killed_web_worker_loses_nothing(crowd, tmp_path, say):
    """Every other kill takes all of them, on PostgreSQL with a deed about to keep its answer."""
    log, away, killed = tmp_path / "server.log", [], []
    with crowd.at_work():
        for kill in range(KILLS):
            crowd.more_answers()
            alive = [pid for pid in begun(log) if pid not in killed]
            now = alive if kill % 2 else alive[:1]
            amid = kill % 2 and connection.vendor == "postgresql"
            with held_up(f"{ANSWERS} IN SHARE MODE") if amid else nullcontext():
                for pid in now:
                    with suppress(ProcessLookupError):
                        os.kill(pid, signal.SIGKILL)
            killed += now
            away.append(crowd.back())
            wanted = len(killed) + 2
            until(lambda wanted=wanted: len(begun(log)) >= wanted, "new workers")
    crowd.adds_up()
    assert len(away) == KILLS > 0
    say(f"{KILLS} kills of web workers, {dict(crowd.told)}, away {max(away):.1f} s at most")


@pytest.mark.skipif("sqlite" in settings.DATABASE_URL, reason="SQLite has no backends")
def test_a_killed_database_backend_loses_nothing(crowd, say):
    """Every other kill meets a deed somewhere, the others one about to keep its answer."""
    away = []
    with crowd.at_work():
        for kill in range(KILLS):
            crowd.more_answers()
            if kill % 2:
                with held_up(f"{ANSWERS} IN SHARE MODE"):
                    assert end(WAITING, ANSWERS)
            else:
                until(lambda: crowd.failures or end(WRITERS), "a backend that writes")
            away.append(crowd.back())
    crowd.adds_up()
    assert len(away) == KILLS > 0
    assert crowd.told["told 503"], "no client met a kill"
    say(f"{KILLS} kills of backends, {dict(crowd.told)}, away {max(away):.1f} s at most")


def nobody_writes() -> bool:
    """Tell whether no transaction is left: a killed worker's last one may commit after its death.

    SQLite takes back what a killed process wrote as soon as it is dead.
    """
    if connection.vendor != "postgresql":
        return True
    with connection.cursor() as cursor:
        cursor.execute(WRITERS)
        return cursor.fetchone() is None


def end(backends: str, *named: str) -> int:
    """End backends and return how many there were."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT pg_terminate_backend(pid) FROM ({backends}) AS one", named)
        return cursor.rowcount
