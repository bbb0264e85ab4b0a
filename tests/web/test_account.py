"""The door: signing in and out, locked after wrong tries, choosing among one's workshops."""

from __future__ import annotations

import pytest
from django.test import Client

from recycling.models import User
from tests.factories import PASSWORD, MemberFactory, WorkshopFactory


@pytest.fixture
def quay(db):
    return WorkshopFactory(slug="quay", name="Quay workshop", username="ada")


def sign_in(client: Client, password: str = PASSWORD, **more: str):
    return client.post("/sign-in/", {"username": "ada", "password": password, **more})


def test_signing_in_leads_to_the_days_page(client, quay):
    answer = sign_in(client)
    assert (answer.status_code, answer.url) == (302, "/")
    assert client.get("/").url == "/w/quay/"


def test_signing_in_leads_back_to_where_one_wanted_to_go(client, quay):
    asked = client.get("/w/quay/record/")
    assert asked.url == "/sign-in/?next=/w/quay/record/"
    assert sign_in(client, next="/w/quay/record/").url == "/w/quay/record/"


def test_no_one_is_led_to_another_host(client, quay):
    assert sign_in(client, next="https://example.org/").url == "/"


def test_a_wrong_password_is_said_with_the_name_kept(client, quay):
    answer = sign_in(client, "wrong")
    page = answer.content.decode()
    assert answer.status_code == 422 and 'value="ada"' in page and "wrong" not in page


def test_ten_wrong_tries_lock_the_door(client, quay):
    codes = [sign_in(client, f"wrong {n}").status_code for n in range(11)]
    assert codes[0] == 422 and codes[-1] == 429
    answer = sign_in(client)
    assert answer.status_code == 429 and "Too many tries" in answer.content.decode()


def test_signing_out_takes_a_press_not_a_link(client, quay):
    sign_in(client)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/").status_code == 302
    assert client.get("/w/quay/").url.startswith("/sign-in/")


def test_somebody_in_two_workshops_chooses_and_switches(client, quay):
    other = WorkshopFactory(slug="mill", name="Old mill")
    MemberFactory(actor=other, username="ada", name="Ada B.", role="viewer")
    WorkshopFactory(slug="closed", name="Not hers")
    client.force_login(User.objects.get(username="ada"))
    assert client.get("/").url == "/workshops/"
    page = client.get("/workshops/").content.decode()
    assert "Quay workshop" in page and "Old mill" in page and "Not hers" not in page
    assert client.post("/workshops/switch/", {"workshop": "mill"}).url == "/w/mill/"
    assert client.get("/").url == "/w/mill/", "the last one is remembered"
    assert client.post("/workshops/switch/", {"workshop": "closed"}).url == "/workshops/"
    assert client.get("/w/closed/").status_code == 404


def test_somebody_in_no_workshop_is_told_so(client, quay):
    client.force_login(User.objects.create_user("new", password=PASSWORD))
    assert client.get("/").url == "/workshops/"
    assert "in no workshop yet" in client.get("/workshops/").content.decode()


def test_a_page_without_its_token_is_refused_in_words(quay):
    client = Client(enforce_csrf_checks=True)
    answer = client.post("/sign-in/", {"username": "ada", "password": PASSWORD})
    assert answer.status_code == 403 and "open for too long" in answer.content.decode()


def test_an_address_that_leads_nowhere_says_so(client, quay):
    answer = client.get("/nowhere/")
    assert answer.status_code == 404 and "nothing at this address" in answer.content.decode()
