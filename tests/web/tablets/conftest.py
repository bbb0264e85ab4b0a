"""A workshop with a shared tablet, and people with PINs."""

from __future__ import annotations

import pytest
from django.test import Client

from recycling.models import User
from recycling.records.actors import Actor
from recycling.services.people.tablets import pin_set, tablet_add
from recycling.web.people.tablet_session import COOKIE
from tests.factories import PASSWORD, MachineFactory, MemberFactory, SourceFactory, WorkshopFactory

PINS = {"Ada": "4071", "Bo": "8253", "Vi": "960418"}


def act(client: Client, slug: str, member: Actor, pin: str, **more: str):
    """Choose a name and type a PIN."""
    return client.post(f"/w/{slug}/acting/", {"member": member.member_id, "pin": pin, **more})


@pytest.fixture
def ada(db) -> Actor:
    actor = WorkshopFactory(slug="quay", name="Quay workshop", username="ada")
    SourceFactory(actor=actor, name="North school")
    MachineFactory(actor=actor, name="The shredder")
    pin_set(actor, PASSWORD, PINS["Ada"])
    return actor


@pytest.fixture
def bo(ada) -> Actor:
    member = MemberFactory(actor=ada, name="Bo", username="bo", role="operator")
    pin_set(member, PASSWORD, PINS["Bo"])
    return member


@pytest.fixture
def vi(ada) -> Actor:
    member = MemberFactory(actor=ada, name="Vi", username="vi", role="viewer")
    pin_set(member, PASSWORD, PINS["Vi"])
    return member


@pytest.fixture
def issued(ada):
    return tablet_add(ada, "Tablet nine")


@pytest.fixture
def tablet(issued) -> Client:
    """The tablet: a browser with its cookie, and nobody acting."""
    device = Client()
    device.cookies[COOKIE] = issued.token
    return device


@pytest.fixture
def signed_in():
    """Return a function that signs a person in with a password, on a device of theirs."""

    def enter(actor: Actor, device: Client | None = None) -> Client:
        device = device or Client()
        name = User.objects.get(memberships__pk=actor.member_id).username
        answer = device.post("/sign-in/", {"username": name, "password": PASSWORD})
        assert answer.status_code == 302
        return device

    return enter
