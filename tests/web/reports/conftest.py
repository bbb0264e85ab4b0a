"""A workshop whose book was told, and browsers of its lead, an operator, a viewer and anybody."""

from __future__ import annotations

import itertools
from copy import deepcopy

import pytest
from django.test import Client

from recycling.models import Member
from tests.factories import MemberFactory
from tests.histories import Told, tell
from tests.reports.conftest import STORY

DOOR = "recycling.web.people.People"
KEYS = itertools.count(1)


def signed_in(member_id: int) -> Client:
    """Give a browser of a member."""
    client = Client()
    client.force_login(Member.objects.get(pk=member_id).user, DOOR)
    return client


@pytest.fixture(scope="module")
def made_book(module_book) -> Told:
    return tell(STORY)


@pytest.fixture
def told(made_book, db) -> Told:
    return deepcopy(made_book)


@pytest.fixture
def browsers(told) -> dict[str, Client]:
    clients = {"lead": signed_in(told.actor.member_id), "anybody": Client()}
    for role in ("operator", "viewer"):
        member = MemberFactory(actor=told.actor, name=role, role=role)
        clients[role] = signed_in(member.member_id)
    return clients


@pytest.fixture
def lead(browsers) -> Client:
    return browsers["lead"]


@pytest.fixture
def ask(told, lead):
    """Send the form that asks for a report, with some fields changed."""

    def send(client: Client | None = None, **changed):
        return (client or lead).post(
            f"/w/{told.actor.slug}/reports/new/",
            {
                "kind": "period",
                "from_date": "2024-01-01",
                "to_date": "2024-03-31",
                "counts_as": "good product",
                "idempotency_key": f"ask-{next(KEYS)}",
                **changed,
            },
        )

    return send
