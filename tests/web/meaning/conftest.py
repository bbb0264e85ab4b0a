"""A workshop whose book was told, and a browser that is signed in as its lead."""

from __future__ import annotations

import itertools
from copy import deepcopy
from datetime import date, timedelta

import pytest
from django.contrib.auth import get_user_model

from recycling.models import Member
from recycling.records.actors import Actor
from tests.factories import START, ContainerFactory, ScaleFactory
from tests.histories import Told, tell

DOOR = "recycling.web.people.People"
DAYS = {
    "from": (START - timedelta(days=1)).date().isoformat(),
    "to": date(2024, 12, 31).isoformat(),
}
STORY = """
O1: heel PET 60g in extruder
C1: bottles PET 6kg, 4kg
R1 sort C1.1 6kg, C1.2 3kg -> clean bottles 8500g, caps HDPE 300g, reject PET 100g, ~residue 50g
R2 shred R1.1 8kg -> flake 7kg, oversize 800g, fines 100g, ~dust 20g
R3 shred R2.2 800g -> flake 700g, fines 50g
R4 dry R2.1 6kg, R3.1 700g -> dried flake 6650g, ~water 40g
R5 extrude R4.1 6kg -> start-up scrap 500g, filament 5kg spool, heel 400g
"""


@pytest.fixture(scope="module")
def made_book(module_book) -> Told:
    told = tell("")
    ScaleFactory(actor=told.actor, name="bench", interval_mg=1_000)
    ContainerFactory(actor=told.actor, name="blue crate", tare_mg=1_200_000)
    return told.tell(STORY)


@pytest.fixture
def told(made_book, db) -> Told:
    return deepcopy(made_book)


def signed_in(client, actor: Actor):
    user = get_user_model().objects.get(pk=Member.objects.get(pk=actor.member_id).user_id)
    client.force_login(user, DOOR)
    return client


@pytest.fixture
def page(client, told):
    """Fetch a page of the told workshop as its lead."""
    signed_in(client, told.actor)

    def get(address: str = "", status: int = 200, **query: str):
        answer = client.get(f"/w/{told.actor.slug}/{address}", query)
        assert answer.status_code == status, answer.content.decode()[:2000]
        return answer

    return get


@pytest.fixture
def send(client, told):
    """Send a form of the told workshop as its lead; gives the last page reached."""
    numbers = itertools.count()
    signed_in(client, told.actor)

    def post(address: str, status: int = 200, **fields: str):
        sent = {"idempotency_key": f"key-{next(numbers)}", **fields}
        answer = client.post(f"/w/{told.actor.slug}/{address}", sent, follow=True)
        assert answer.status_code == status, answer.content.decode()[:3000]
        return answer

    return post
