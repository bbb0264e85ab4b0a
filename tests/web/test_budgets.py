"""What one key, member or address may ask in a minute, and what it is told.

The fields' syntax is that of draft-ietf-httpapi-ratelimit-headers (structured fields, RFC 9651).
"""

from __future__ import annotations

import multiprocessing
import re
import socket
from pathlib import Path

import pytest
from django.test import Client

from recycling import budgets
from recycling.models import Answer
from tests.factories import KeyFactory, MemberFactory

pytestmark = pytest.mark.django_db
POLICY = re.compile(r'"([a-z-]+)";q=(\d+);w=60')
LEFT = re.compile(r'"([a-z-]+)";r=(\d+);t=(\d+)')
API = "/api/v1/lots/"


@pytest.fixture(autouse=True)
def small(settings, tmp_path, monkeypatch):
    """Give five requests a minute, of a minute that does not end amid a test."""
    settings.DATA_DIR, settings.REQUESTS_A_MINUTE, settings.WRONG_KEYS_A_MINUTE = tmp_path, 5, 3
    monkeypatch.setattr(budgets.time, "time", lambda: clock[0])
    clock[0] = 1_800_000_010.0


clock = [0.0]


def bearer(secret: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {secret}"}


def ask(secret: str, path: str = API, **more):
    return Client().get(path, headers=bearer(secret), **more)


def test_a_key_has_its_budget_and_is_told_what_is_left(lead):
    one, other = (KeyFactory(actor=lead).secret for _ in range(2))
    for left in (4, 3, 2, 1, 0):
        answer = ask(one)
        assert answer.status_code == 200
        assert POLICY.fullmatch(answer["RateLimit-Policy"]).groups() == ("key", "5")
        assert LEFT.fullmatch(answer["RateLimit"]).groups() == ("key", str(left), "50")
    refused = ask(one)
    assert refused.status_code == 429 and refused["Retry-After"] == "50"
    assert refused["Content-Type"] == "application/problem+json"
    assert refused.json()["errors"][0]["code"] == "too-many-requests"
    assert LEFT.fullmatch(refused["RateLimit"]).groups() == ("key", "0", "50")
    assert ask(other).status_code == 200, "another key goes on"
    clock[0] += 50
    assert ask(one).status_code == 200, "the next minute has its own"


def test_what_is_refused_records_nothing_and_may_be_sent_again(lead):
    key = KeyFactory(actor=lead).secret
    for _ in range(5):
        ask(key)
    sent = {**bearer(key), "Idempotency-Key": "one"}
    body = {"name": "Corner shop"}
    post = lambda: Client().post("/api/v1/sources/", body, "application/json", headers=sent)  # noqa: E731
    assert post().status_code == 429 and not Answer.objects.exists()
    clock[0] += 60
    assert post().status_code == 201


def test_a_member_has_theirs_for_pages_wherever_they_sit(lead):
    clients = [Client(), Client()]
    MemberFactory(actor=lead, name="Bo", role="viewer")
    for client in clients:
        client.force_login(user_of(lead))
    path = f"/w/{lead.slug}/"
    statuses = [clients[n % 2].get(path).status_code for n in range(6)]
    assert statuses[:5] == [200] * 5 and statuses[5] == 429
    refused = clients[0].get(path)
    assert "Wait until the minute is over" in refused.content.decode() and refused["Retry-After"]
    clients[0].cookies["django_language"] = "de"
    assert "Minute" in clients[0].get(path).content.decode()


def user_of(actor):
    from recycling.models import Member

    return Member.objects.get(pk=actor.member_id).user


def test_an_address_without_either_has_its_own_behind_ones_own_proxies(settings):
    def status(sent: str) -> int:
        return Client().get("/sign-in/", headers={"X-Forwarded-For": sent}).status_code

    assert [status("192.0.2.1") for _ in range(5)][-1] != 429
    assert status("192.0.2.2") == 429, "nobody gets another address by saying so"
    settings.PROXY_HOPS = 1
    assert status("192.0.2.2") != 429
    same = [status(f"2001:db8::{n}") for n in range(6)]
    assert same[-1] == 429, "a network of IPv6 is one sender"


def test_wrong_keys_are_slowed_and_right_ones_from_there_are_not(lead, settings):
    right = KeyFactory(actor=lead).secret
    statuses = [ask(f"wrong{n}").status_code for n in range(6)]
    assert statuses == [401, 401, 401, 429, 429, 429]
    refused = ask("wrong again")
    assert (
        refused["Retry-After"] and POLICY.fullmatch(refused["RateLimit-Policy"])[1] == "wrong-keys"
    )
    assert ask(right).status_code == 200
    settings.PROXY_HOPS = 1
    assert ask("wrong", HTTP_X_FORWARDED_FOR="192.0.2.9").status_code == 401


def test_who_watches_the_service_is_not_counted():
    assert {Client().get("/healthz").status_code for _ in range(9)} == {200}


def test_a_request_beyond_every_page_is_refused_before_it_is_read(lead):
    client = Client()
    client.force_login(user_of(lead))
    answer = client.post(f"/w/{lead.slug}/record/imports/", {}, CONTENT_LENGTH=str(17 * 2**20))
    assert answer.status_code == 413 and "16 MiB" in answer.content.decode()


def add(path: Path, times: int) -> None:
    counters = budgets.CounterFile(path)
    for _ in range(times):
        counters.add(b"together", 7, 1)


def test_processes_count_together_and_lose_nothing(tmp_path):
    context = multiprocessing.get_context("fork")
    at_it = [context.Process(target=add, args=(tmp_path / "budgets", 500)) for _ in range(4)]
    for one in at_it:
        one.start()
    for one in at_it:
        one.join()
        assert one.exitcode == 0
    assert budgets.CounterFile(tmp_path / "budgets").add(b"together", 7, 0) == 2_000


def test_a_full_file_gives_up_the_least_counter_and_old_ones_first(tmp_path, monkeypatch):
    monkeypatch.setattr(budgets, "SLOTS", budgets.PROBED)
    counters = budgets.CounterFile(tmp_path / "few")
    tags = [bytes([n]) * 8 for n in range(budgets.PROBED)]
    for place, tag in enumerate(tags):
        counters.add(tag, 7, place + 2)
    assert counters.add(b"newcomer", 7, 1) == 1
    assert [counters.add(tag, 7, 0) for tag in tags] == [0, *range(3, budgets.PROBED + 2)]
    assert counters.add(tags[0], 8, 1) == 1 and counters.add(tags[0], 8, 1) == 2


def test_redis_counts_for_all_hosts_and_its_absence_stops_nobody(settings, monkeypatch):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(budgets, "_rests_until", 0.0)
    assert [budgets.spend("key one", 5).count for _ in range(3)] == [1, 2, 3]
    assert budgets._rests_until > 0, "it is not asked at every request"


def test_a_broker_that_takes_calls_and_never_answers_stops_nobody(settings, monkeypatch):
    monkeypatch.setattr(budgets, "_rests_until", 0.0)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        settings.REDIS_URL = f"redis://127.0.0.1:{silent.getsockname()[1]}/0"
        assert [budgets.spend("one", 2).over for _ in range(3)] == [False, False, True]


def test_a_reader_that_the_library_closed_stops_nobody(settings, monkeypatch):
    """A timeout amid its handshake comes as the ValueError of a closed buffer."""

    def closed(url):
        raise ValueError("I/O operation on closed file.")

    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(budgets, "_redis", closed)
    monkeypatch.setattr(budgets, "_rests_until", 0.0)
    assert [budgets.spend("one", 2).count for _ in range(2)] == [1, 2]


def test_with_redis_it_is_the_one_that_counts(settings, monkeypatch):
    counted: dict[str, int] = {}

    class Pipeline:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def incrby(self, name, requests):
            counted[name] = counted.get(name, 0) + requests
            self.count = counted[name]

        def expire(self, name, seconds):
            assert seconds > budgets.WINDOW_S

        def execute(self):
            return [self.count, True]

    class Broker:
        def pipeline(self, transaction):
            return Pipeline()

    monkeypatch.setattr(budgets, "_redis", lambda url: Broker())
    monkeypatch.setattr(budgets, "_rests_until", 0.0)
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    assert [budgets.spend("key one", 5).count for _ in range(2)] == [1, 2]
    assert len(counted) == 1 and not any("one" in name for name in counted)
