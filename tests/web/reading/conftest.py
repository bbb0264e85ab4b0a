"""A signed-in browser on a small workshop's book."""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, datetime

import pytest
from django.contrib.auth import get_user_model

from recycling.records.actors import Actor
from recycling.records.people import MemberEntry
from recycling.services.people.workshops import member_add
from tests.web.reading.small_book import PASSWORD, Book, open_workshop

DOOR = "recycling.web.people.People"


def _user(username: str):
    return get_user_model().objects.get(username=username)


@pytest.fixture(scope="module")
def made_workshop(module_book) -> Actor:
    return open_workshop()


@pytest.fixture(scope="module")
def made_book(made_workshop) -> Book:
    return Book(made_workshop, datetime(2026, 3, 2, 8, tzinfo=UTC)).record()


@pytest.fixture
def actor(made_workshop, db) -> Actor:
    return made_workshop


@pytest.fixture
def book(made_book, db) -> Book:
    return deepcopy(made_book)


@pytest.fixture
def page(client, actor):
    """Fetch a page of the workshop as its lead."""
    client.force_login(_user("ines"), DOOR)

    def get(address: str = "", status: int = 200, **query: str):
        answer = client.get(f"/w/{actor.slug}/{address}", query)
        assert answer.status_code == status, answer.content.decode()[:2000]
        return answer

    return get


@pytest.fixture
def viewer_page(client, actor):
    """Fetch a page of the workshop as a viewer."""
    member_add(actor, MemberEntry(username="vera", name="Vera", role="viewer", password=PASSWORD))
    client.force_login(_user("vera"), DOOR)

    def get(address: str = "", status: int = 200, **query: str):
        answer = client.get(f"/w/{actor.slug}/{address}", query)
        assert answer.status_code == status, answer.content.decode()[:2000]
        return answer

    return get
