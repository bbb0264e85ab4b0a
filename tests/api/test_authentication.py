"""Who asks: keys, sessions, and the workshop that is meant."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from recycling.models import User
from tests.api.conftest import BASE, Program, codes_of, hold_to_schema
from tests.factories import PASSWORD, KeyFactory, MemberFactory, SourceFactory, WorkshopFactory


@pytest.mark.parametrize(
    "authorization",
    [
        None,
        "Bearer",
        "Bearer ",
        "Bearer rl_nothing",
        "Basic YTpi",
        "Bearer " + "x" * 5000,
        "Bearer é",
    ],
)
def test_no_key_or_a_wrong_one_is_401(shop, authorization):
    program = Program()
    if authorization is not None:
        program.headers = {"Authorization": authorization}
    response = program.send("GET", "/lots/")
    assert response.status_code == 401
    assert response["WWW-Authenticate"] == 'Bearer realm="book"'
    assert program.send("POST", "/runs/", {}).status_code == 401


def test_a_key_that_differs_at_its_end_is_refused(shop):
    secret = KeyFactory(actor=shop.lead).secret
    assert Program(secret).send("GET", "/lots/").status_code == 200
    assert Program(secret[:-1] + "?").send("GET", "/lots/").status_code == 401


def test_a_key_expires_and_is_revoked(shop, api):
    issued = api.post("/keys/", {"label": "scale", "scope": "read", "days": 1})
    program = Program(issued["secret"])
    assert program.send("GET", "/lots/").status_code == 200
    with time_machine.travel(timezone.now() + timedelta(days=2), tick=False):
        assert program.send("GET", "/lots/").status_code == 401
    api.post(f"/keys/{issued['key']}/revoke/", {}, status=200)
    assert program.send("GET", "/lots/").status_code == 401


def session(lead, strict: bool = False) -> Client:
    client = Client(enforce_csrf_checks=strict)
    user = User.objects.get(memberships=lead.member_id)
    client.force_login(user, backend="recycling.web.people.People")
    return client


def test_a_session_reads_and_writes_with_its_token_only(shop):
    client = session(shop.lead, strict=True)
    assert client.get(f"{BASE}/lots/").status_code == 200
    body = json.dumps({"name": "Corner shop", "kind": "shop"})
    named = {"Idempotency-Key": "a"}
    response = client.post(f"{BASE}/sources/", body, "application/json", headers=named)
    assert response.status_code == 403
    assert response["Content-Type"] == "application/problem+json"
    client.cookies["csrftoken"] = "a" * 32
    named["X-CSRFToken"] = "a" * 32
    response = client.post(f"{BASE}/sources/", body, "application/json", headers=named)
    assert response.status_code == 201, response.content


def test_a_person_of_two_workshops_names_one(shop, other_shop):
    user = User.objects.get(memberships=shop.lead.member_id)
    MemberFactory(actor=other_shop.lead, username=user.username, name="Guest", role="viewer")
    client = session(shop.lead)
    response = client.get(f"{BASE}/lots/")
    assert response.status_code == 422
    assert codes_of(json.loads(response.content)) == [("workshop-missing", "")]
    here = client.get(f"{BASE}/lots/", headers={"X-Workshop": shop.lead.slug})
    there = client.get(f"{BASE}/lots/", headers={"X-Workshop": other_shop.lead.slug})
    assert here.status_code == there.status_code == 200 and here.content != there.content
    hold_to_schema("GET", f"{BASE}/lots/", here)
    last = client.session
    last["workshop"] = other_shop.lead.slug
    last.save()
    assert client.get(f"{BASE}/lots/").content == there.content


@pytest.mark.parametrize("name", ["no-such", "\x00", "x" * 300])
def test_a_workshop_one_is_not_in_does_not_exist(shop, other_shop, name):
    client = session(shop.lead)
    for slug in (name, other_shop.lead.slug):
        response = client.get(f"{BASE}/lots/", headers={"X-Workshop": slug})
        assert response.status_code == 404
        assert codes_of(json.loads(response.content)) == [("workshop-unknown", "")]


def test_a_person_of_no_workshop(db):
    lead = WorkshopFactory()
    user = User.objects.create_user("alone", password=PASSWORD)
    client = Client()
    client.force_login(user, backend="recycling.web.people.People")
    assert client.get(f"{BASE}/lots/").status_code == 422
    assert lead


def test_a_bad_key_is_not_saved_by_a_session(shop):
    client = session(shop.lead)
    assert client.get(f"{BASE}/lots/", headers={"Authorization": "Bearer x"}).status_code == 401


def test_the_header_names_no_other_workshop_for_a_key(shop, other_shop):
    SourceFactory(actor=shop.lead, name="Only here")
    listed = shop.api.get("/sources/", X_Workshop=other_shop.lead.slug)
    assert b"Only here" in listed.content
