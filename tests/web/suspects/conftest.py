"""A book in which one collection spoils what is made of it, and a browser signed in to it."""

from __future__ import annotations

from copy import deepcopy

import pytest
from django.test import Client

from recycling.models import Member, User
from recycling.services.labels import link_give
from tests.factories import PASSWORD, MemberFactory
from tests.queries.spoilt import judge, spoilt_book


@pytest.fixture(scope="module")
def made_book(module_book):
    told = spoilt_book()
    for place in range(6):
        judge(told, f"S{place}", good=place % 2 == 0)
    return told


@pytest.fixture
def told(made_book, db):
    """Eight spools, of which the last two are not judged."""
    return deepcopy(made_book)


@pytest.fixture
def browser(told) -> Client:
    client = Client()
    member = Member.objects.get(pk=told.actor.member_id)
    client.force_login(member.user, backend="recycling.web.people.People")
    return client


@pytest.fixture
def viewer(told) -> Client:
    client = Client()
    actor = MemberFactory(actor=told.actor, name="Vi", role="viewer", password=PASSWORD)
    user = User.objects.get(memberships=actor.member_id)
    client.force_login(user, backend="recycling.web.people.People")
    return client


@pytest.fixture
def at(told, browser):
    """Fetch a page of the workshop."""

    def get(address: str, status: int = 200, **query):
        answer = browser.get(f"/w/{told.actor.slug}/{address}", query)
        assert answer.status_code == status, answer.content.decode()[:3000]
        return answer

    return get


@pytest.fixture
def press(told, browser):
    """Press a button of the workshop's pages."""

    def post(address: str, status: int = 302, **data):
        data.setdefault("idempotency_key", "press-1")
        answer = browser.post(f"/w/{told.actor.slug}/{address}", data)
        assert answer.status_code == status, answer.content.decode()[:3000]
        return answer

    return post


@pytest.fixture
def token(told) -> str:
    return link_give(told.actor, told.code("S7")).token
