"""A browser on a network that can be cut, or lose answers after the service has handled them."""

from __future__ import annotations

import socket
import threading
from contextlib import closing, suppress

import pytest
from django.test import Client
from playwright.sync_api import expect

from recycling.models import User
from recycling.records.lots.origin_entries import BagEntry
from tests.factories import (
    KG,
    START,
    MachineFactory,
    MemberFactory,
    OriginFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.waiting import PATIENCE_MS

WAITING = "async () => (await outbox.entries()).map(one => [one.state, one.title, one.owner])"
ALL_KEPT = """async (asked) => {
    const {slug} = document.body.dataset;
    const headers = {'X-Asked-By-Page': '1'};
    const {pages} = await (await fetch(`/w/${slug}/outbox/pages/${asked}`, {headers})).json();
    const copies = pages.map(path => caches.match(path, {cacheName: `pages-${slug}`}));
    return (await Promise.all(copies)).every(Boolean);
}"""
PAUSE_MS = 50
CANARIES = {"lead": "Canaria Lead", "member": "Canaria Member", "household": "Canaria Household"}


class Wire:
    """A cable to the service: `up`, `down`, or `deaf`, when answers to POST are lost."""

    def __init__(self, port: int) -> None:
        self.target, self.state, self.lost = port, "up", 0
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.open: set[socket.socket] = set()
        threading.Thread(target=self._take, daemon=True).start()

    def cut(self) -> None:
        """Break what is connected, and refuse what comes."""
        self.state = "down"
        for one in list(self.open):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def _take(self) -> None:
        with suppress(OSError):
            while True:
                client, _where = self.listening.accept()
                if self.state == "down":
                    client.close()
                    continue
                threading.Thread(target=self._relay, args=(client,), daemon=True).start()

    def _relay(self, client: socket.socket) -> None:
        asked = {"post": False}
        with closing(client), closing(socket.create_connection(("127.0.0.1", self.target))) as far:
            self.open |= {client, far}
            back = threading.Thread(target=self._answer, args=(far, client, asked), daemon=True)
            back.start()
            with suppress(OSError):
                while chunk := client.recv(65536):
                    if chunk[:5] in (b"POST ", b"GET /"):
                        asked["post"] = chunk.startswith(b"POST ")
                    far.sendall(chunk)
            with suppress(OSError):
                far.shutdown(socket.SHUT_RDWR)
            back.join()
            self.open -= {client, far}

    def _answer(self, far: socket.socket, client: socket.socket, asked: dict[str, bool]) -> None:
        with suppress(OSError):
            while chunk := far.recv(65536):
                if self.state == "deaf" and asked["post"]:
                    self.lost += 1
                    break
                client.sendall(chunk)
        with suppress(OSError):
            client.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self.cut()
        self.listening.close()


@pytest.fixture
def wire(live_server):
    cable = Wire(int(live_server.url.rpartition(":")[2]))
    yield cable
    cable.close()


@pytest.fixture
def lead(db):
    """The lead of a workshop; names of people in it are told from all other words."""
    actor = WorkshopFactory(
        slug="quay", name="Quay workshop", zone="Europe/Lisbon", lead_name=CANARIES["lead"]
    )
    SourceFactory(actor=actor, name="North school")
    SourceFactory(actor=actor, name=CANARIES["household"], kind="household")
    ScaleFactory(actor=actor, name="Bench scale")
    MachineFactory(actor=actor, name="The shredder", kind="shredder")
    return actor


@pytest.fixture
def member(lead):
    return MemberFactory(actor=lead, name=CANARIES["member"], role="operator")


@pytest.fixture
def bottles(lead) -> str:
    put = (BagEntry(5 * KG, form="bottles", polymer="PET"),)
    return OriginFactory(actor=lead, happened_at=START, bags=put).lots[0].code


def sign_in(context, url: str, actor) -> None:
    """Put a person's session into a browser."""
    signed_in = Client()
    signed_in.force_login(User.objects.get(memberships__pk=actor.member_id))
    cookie = signed_in.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": url}])


@pytest.fixture
def context(chromium, wire):
    """A device, reached over the wire at localhost, which browsers count as secure."""
    device = chromium.new_context(
        viewport={"width": 360, "height": 800}, base_url=f"http://localhost:{wire.port}/w/quay/"
    )
    device.set_default_timeout(PATIENCE_MS)
    yield device
    device.close()


@pytest.fixture
def tab(context, wire, lead):
    """A page of the lead's whose device has kept what it keeps."""
    sign_in(context, f"http://localhost:{wire.port}", lead)
    page = context.new_page()
    kept(page)
    return page


def kept(page) -> None:
    """Visit the bench, and wait until its pages are kept."""
    page.goto("record/")
    until(page, lambda: page.evaluate(ALL_KEPT, ""))


def until(page, wanted) -> None:
    """Wait for something that is asked again and again."""
    for _turn in range(PATIENCE_MS // PAUSE_MS):
        if wanted():
            return
        page.wait_for_timeout(PAUSE_MS)
    raise AssertionError(page.evaluate(WAITING))


def says(page, selector: str, words: str) -> None:
    """Wait until what scripts write on a page is this."""
    expect(page.locator(selector)).to_have_text(words, timeout=PATIENCE_MS, use_inner_text=True)
