"""Signing in while the book is full, busy or closed, and who is locked out by wrong passwords."""

from __future__ import annotations

import sqlite3

import pytest
from django.db import OperationalError, connection
from django.test import Client

from recycling.keeping.limits import take_turn
from recycling.services.people import sign_in_try as tries
from tests.factories import PASSWORD, MemberFactory, WorkshopFactory

PROXY = "172.18.0.5"


@pytest.fixture
def quay(db):
    lead = WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    MemberFactory(actor=lead, username="bo", name="Bo")
    return lead


def sign_in(name: str, password: str = PASSWORD, came_from: str = "203.0.113.7", said: str = ""):
    passed = f"{said}, {came_from}" if said else came_from
    return Client(raise_request_exception=False).post(
        "/sign-in/",
        {"username": name, "password": password},
        REMOTE_ADDR=PROXY,
        headers={"X-Forwarded-For": passed},
    )


@pytest.fixture
def behind_the_proxy(settings):
    settings.PROXY_HOPS = 1


@pytest.mark.usefixtures("quay", "behind_the_proxy")
def test_wrong_passwords_from_one_address_lock_nobody_else_out():
    codes = [sign_in("ada", f"wrong {n}").status_code for n in range(11)]
    assert codes[:9] == [422] * 9 and codes[-1] == 429
    assert sign_in("ada").status_code == 429, "from there ada is locked"
    assert sign_in("ada", came_from="198.51.100.9").status_code == 302, "from elsewhere she is not"
    assert sign_in("bo").status_code == 302, "nor is whoever else is there"


@pytest.mark.usefixtures("quay", "behind_the_proxy")
def test_what_a_sender_says_of_itself_does_not_count():
    for number in range(11):
        answer = sign_in("ada", f"wrong {number}", said=f"192.0.2.{number}")
    assert answer.status_code == 429


@pytest.mark.usefixtures("quay", "behind_the_proxy")
def test_one_address_cannot_try_names_without_end(monkeypatch):
    monkeypatch.setattr(tries, "MOST_WRONG", 20)
    codes = [sign_in(f"name {n}", "wrong").status_code for n in range(21)]
    assert codes == [422] * 20 + [429]
    answer = sign_in("bo")
    assert answer.status_code == 429 and int(answer["Retry-After"]) > 0
    assert sign_in("bo", came_from="198.51.100.9").status_code == 302


@pytest.mark.usefixtures("quay", "behind_the_proxy")
def test_right_passwords_are_not_counted(monkeypatch):
    monkeypatch.setattr(tries, "MOST_WRONG", 3)
    assert [sign_in("bo").status_code for _ in range(6)] == [302] * 6


@pytest.mark.usefixtures("quay")
def test_an_address_that_is_none_is_not_believed(settings):
    settings.PROXY_HOPS = 1
    answer = sign_in("ada", "wrong", came_from="no address")
    assert answer.status_code == 422


needs_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="of the embedded book")
needs_postgres = pytest.mark.skipif("connection.vendor == 'sqlite'", reason="of PostgreSQL")


def run(sql: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        row = cursor.fetchone() if cursor.description else None
    return row[0] if row else 0


@pytest.fixture
def full(transactional_db):
    """A book whose file may not grow by one page."""
    WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    run("VACUUM")
    before = run("PRAGMA max_page_count")
    run(f"PRAGMA max_page_count = {run('PRAGMA page_count')}")
    for number in range(1000):  # until no page has room for one more
        try:
            take_turn("filling", str(number), 1)
        except OperationalError:
            break
    yield
    run(f"PRAGMA max_page_count = {before}")


@pytest.fixture
def closed(transactional_db):
    """A book that takes no writing."""
    WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    sqlite = connection.vendor == "sqlite"
    run("PRAGMA query_only = 1") if sqlite else run("SET default_transaction_read_only = on")
    yield
    run("PRAGMA query_only = 0") if sqlite else run("SET default_transaction_read_only = off")


def held(answer, words: str) -> None:
    assert answer.status_code == 503, answer.content[:300]
    assert int(answer["Retry-After"]) > 0 and words in answer.content.decode()


@needs_sqlite
@pytest.mark.usefixtures("full")
def test_a_full_disk_is_said_at_the_door_and_the_server_is_not_ready(client):
    held(sign_in("ada"), "disk of the book is full")
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json()["writing"]) == (503, "book-full")


@needs_sqlite
def test_a_busy_book_is_said_at_the_door_and_not_ready(client, transactional_db):
    WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        run("PRAGMA busy_timeout = 50")
        held(sign_in("ada"), "book is busy")
        ready = client.get("/readyz")
        assert (ready.status_code, ready.json()["writing"]) == (503, "book-busy")
    finally:
        other.close()
    assert client.get("/readyz").status_code == 200


@pytest.mark.usefixtures("closed")
def test_a_book_that_takes_no_writing_is_said_at_the_door_and_not_ready(client):
    held(sign_in("ada"), "takes no writing")
    held(sign_in("ada", "wrong"), "takes no writing")
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json()["writing"]) == (503, "book-read-only")


@pytest.mark.usefixtures("closed")
def test_a_server_declared_read_only_is_ready_and_says_so(client, settings):
    settings.READ_ONLY = True
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json()["writing"]) == (200, "read-only")
    held(sign_in("ada"), "only shows the book")
