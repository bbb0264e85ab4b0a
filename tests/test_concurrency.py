"""Many clients at once against the real server: nothing is overdrawn, lost, or done twice.

How much is asked is set by ``CONCURRENT_OPERATIONS`` and printed with the time it took.
"""

from __future__ import annotations

import os
import random
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection

from recycling.ledger.models import Entry
from recycling.models import Lot, Run
from recycling.queries.integrity.audit import audit
from recycling.records.lots.origin_entries import BagEntry
from tests.factories import KG, START, G, KeyFactory, OriginFactory, WorkshopFactory
from tests.serving import Answer, Caller, served
from tests.waiting import until

OPERATIONS = int(os.environ.get("CONCURRENT_OPERATIONS", "500"))
CLIENTS, LOTS = 16, 12
SEED = 20_240_108
LARGEST_MG = 4 * LOTS * 3 * KG // OPERATIONS
"""Three in four draw half of this on average: half as much again as there is."""
ROUNDS = 4
pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


class Patient(Caller):
    """A client that sends again what the book was too busy for, as it is told to."""

    def _ask(self, *request) -> Answer:
        answers: list[Answer] = []

        def said() -> bool:
            answers.append(super(Patient, self)._ask(*request))
            return answers[-1].status != 503 or answers[-1].codes != {"book-busy"}

        until(said, "the book to be less busy")
        return answers[-1]


class Shop:
    """A served workshop with some bags."""

    def __init__(self, port: int, bags: list[int]):
        self.port, self.actor = port, WorkshopFactory()
        self.key = KeyFactory(actor=self.actor, scope="manage").secret
        self.lots = self.bags(bags)

    def bags(self, masses: list[int]) -> list[str]:
        bags = tuple(BagEntry(mass) for mass in masses)
        return [lot.code for lot in OriginFactory(actor=self.actor, bags=bags).lots]

    def caller(self) -> Caller:
        return Patient(self.port, self.key)


@pytest.fixture
def server(tmp_path):
    with served(tmp_path) as port:
        yield port
    log = (tmp_path / "server.log").read_text()
    assert "Traceback" not in log, log[-3000:]


@pytest.fixture
def say(capsys):
    """Print a line that is seen in any case."""

    def line(text: str) -> None:
        with capsys.disabled():
            print(f"\n{connection.vendor}: {text}", end=" ")  # noqa: T201

    return line


def at_once(count: int, deed: Callable[[int], None]) -> None:
    """Have a number of threads do something at the same moment; the first failure is raised."""
    gate, failures = threading.Barrier(count), []

    def work(place: int) -> None:
        try:
            gate.wait(30)
            deed(place)
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(place,)) for place in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if failures:
        raise failures[0]


def sorting(lot: str, mass_mg: int, second: int, **more) -> dict:
    at = (START + timedelta(days=1, seconds=second)).isoformat()
    entry = {"stage": "sort", "started_at": at, "ended_at": at}
    return entry | {"inputs": [{"lot": lot, "mass_mg": mass_mg}]} | more


def proper(answer: Answer) -> Answer:
    """Hold an answer to what every answer must be."""
    assert answer.status < 500, answer.body
    assert b"locked" not in answer.body
    return answer


def test_sixteen_clients_draw_at_random(server, say):
    shop, started = Shop(server, [3 * KG] * LOTS), time.monotonic()
    told: Counter[str] = Counter()
    drawn: Counter[str] = Counter()
    lock = threading.Lock()

    def note(what: str, lot: str = "", mass: int = 0) -> None:
        with lock:
            told[what] += 1
            drawn[lot] += mass

    def client(place: int) -> None:
        caller, dice = shop.caller(), random.Random(SEED + place)
        for turn in range(OPERATIONS // CLIENTS):
            deed, lot = dice.random(), dice.choice(shop.lots)
            mass, second = dice.randint(1, LARGEST_MG), dice.randrange(0, 86_400)
            if deed < 0.25:
                balance = proper(caller.get("/balance/now/"))
                assert balance.status == 200
                rows = balance.json()
                parts = rows["lots"] + rows["in_process"] + rows["borders"]
                assert sum(row["mass_mg"] for row in parts) == rows["total_mg"] == 0
                assert all(row["mass_mg"] >= 0 for row in rows["lots"])
                note("read")
                continue
            body = sorting(lot, mass, second, outputs=[{"form": "clean bottles", "mass_mg": mass}])
            if deed < 0.4:
                del body["ended_at"], body["outputs"]
                body["state"] = "open"
            answer = proper(caller.post("/runs/", body, f"{place}-{turn}-{uuid.uuid4()}"))
            if answer.status == 201:
                note("opened" if "state" in body else "recorded", lot, mass)
                if "state" in body and dice.random() < 0.5:
                    run = answer.json()["code"]
                    done = caller.post(f"/runs/{run}/close/", {}, str(uuid.uuid4()))
                    assert proper(done).status in (200, 201), done.body
                    note("closed")
            else:
                assert (answer.status, answer.codes) == (422, {"lot-overdrawn"}), answer.body
                note("refused")

    at_once(CLIENTS, client)
    for code in shop.lots:
        lot = Lot.objects.select_related("account").get(
            workshop_id=shop.actor.workshop_id, code=code
        )
        assert lot.account.balance_mg == 3 * KG - drawn[code] >= 0
    assert audit(shop.actor.workshop_id) == []
    runs = Run.objects.filter(workshop_id=shop.actor.workshop_id, stage="sort")
    assert runs.count() == told["recorded"] + told["opened"]
    assert sum(told.values()) - told["closed"] == OPERATIONS // CLIENTS * CLIENTS
    assert told["recorded"] and told["refused"] and told["read"]
    say(f"seed {SEED}, {dict(told)} in {time.monotonic() - started:.0f} s")


def test_ten_of_sixty_four_get_one_of_ten_draws(server, say):
    shop, started = Shop(server, [KG] * ROUNDS), time.monotonic()
    for lot in shop.lots:
        statuses: list[tuple[int, frozenset[str]]] = []

        def one(place: int, lot: str = lot, statuses=statuses) -> None:
            answer = proper(
                shop.caller().post("/runs/", sorting(lot, 100 * G, 0), f"{lot} {place}")
            )
            codes = frozenset() if answer.status == 201 else frozenset(answer.codes)
            statuses.append((answer.status, codes))

        at_once(64, one)
        assert Counter(statuses) == {
            (201, frozenset()): 10,
            (422, frozenset({"lot-overdrawn"})): 54,
        }
        assert Lot.objects.get(code=lot).account.balance_mg == 0
    assert audit(shop.actor.workshop_id) == []
    say(f"{ROUNDS} rounds of 64 clients in {time.monotonic() - started:.0f} s")


@pytest.mark.ordinary
def test_many_hands_work_on_one_open_run(server, say):
    """Draws, outputs and "all that is left" by eight clients into one run, from the same lots."""
    shop, started = Shop(server, [3 * KG] * 4), time.monotonic()
    body = sorting(shop.lots[0], KG, 0, state="open")
    del body["ended_at"]
    run = proper(shop.caller().post("/runs/", body, "open")).json()["code"]
    bottles = {"form": "clean bottles", "mass_mg": 200 * G}
    assert shop.caller().post(f"/runs/{run}/outputs/", bottles, "first").status == 201
    told: Counter[str] = Counter()

    def client(place: int) -> None:
        caller = shop.caller()
        for turn, lot in enumerate(shop.lots[1:3]):
            draw = {"lot": lot, "mass_mg": (place + 1) * G}
            answer = proper(caller.post(f"/runs/{run}/draws/", draw, f"draw {place} {turn}"))
            assert answer.status == 201, answer.body
            answer = proper(caller.post(f"/runs/{run}/outputs/", bottles, f"out {place} {turn}"))
            assert answer.status == 201, answer.body
        whole = {"lot": shop.lots[3], "all": True}
        answer = proper(caller.post(f"/runs/{run}/draws/", whole, f"all {place}"))
        told["all"] += answer.status == 201
        if answer.status != 201:
            assert answer.codes == {"lot-used-up"}, answer.body

    at_once(8, client)
    assert told["all"] == 1
    drawn = Run.objects.get(code=run).draws.order_by("lot__number")
    assert list(drawn.values_list("mass_mg", flat=True)) == [KG, 36 * G, 36 * G, 3 * KG]
    assert audit(shop.actor.workshop_id) == []
    say(f"one open run, 8 clients in {time.monotonic() - started:.0f} s")


def test_a_key_sent_twenty_times_is_one_entry(server, say):
    keys = max(10, OPERATIONS // 20)
    shop, started = Shop(server, [100 * KG]), time.monotonic()
    (lot,) = shop.lots
    sends = [(key, turn) for key in range(keys) for turn in range(20)]
    random.Random(SEED).shuffle(sends)
    answers: dict[int, list[Answer]] = {key: [] for key in range(keys)}
    busy: Counter[str] = Counter()

    def client(place: int) -> None:
        caller = shop.caller()
        for key, _ in sends[place::CLIENTS]:
            mass = 10 * G if key % 10 else 200 * KG  # every tenth is refused, and stays refused
            body = sorting(lot, mass, key)
            for _ in range(200):
                answer = proper(caller.post("/runs/", body, f"key {key}"))
                if answer.status != 409:
                    break
                assert answer.codes == {"key-running"}
                busy["told to ask again"] += 1
                time.sleep(0.01)
            answers[key].append(answer)

    at_once(CLIENTS, client)
    caller = shop.caller()
    for key, given in answers.items():
        assert len(given) == 20
        assert {answer.status for answer in given} == {201 if key % 10 else 422}
        assert len({answer.body for answer in given}) == 1, "the answers differ"
        entries = Entry.objects.filter(book_id=shop.actor.workshop_id, key=f"key {key}")
        assert entries.count() == (1 if key % 10 else 0)
        other = proper(caller.post("/runs/", sorting(lot, 11 * G, key), f"key {key}"))
        assert (other.status, other.codes) == (422, {"key-reused"})
    assert audit(shop.actor.workshop_id) == []
    say(f"{keys} keys × 20 in {time.monotonic() - started:.0f} s, {dict(busy)}")
