"""People at the bench in a real browser: each in a context of their own, their taps counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest
from django.test import Client

from recycling.models import User
from tests.waiting import PATIENCE_MS
from tests.web.recording.conftest import (
    Hand,
    bag,
    hand_of,
    operator,
    set_up,
    stranger,
    viewer,
)

__all__ = ["bag", "operator", "stranger", "viewer"]


@pytest.fixture
def lead(db) -> Hand:
    """Made for each test: the threads of the server must see it."""
    return hand_of(set_up())


@dataclass
class Bench:
    """A browser at the bench that counts taps and keeps complaints.

    Attributes
    ----------
    page : playwright page
        What is open.
    taps : int
        Presses of a finger; typing is not one.
    complaints : list of str
        What the console said, and requests to other hosts.
    """

    page: Any
    taps: int = 0
    complaints: list[str] = field(default_factory=list)

    def tap(self, what: str) -> None:
        """Press something; a press that leads on waits for the next page."""
        self.taps += 1
        self.page.locator(what).first.click()
        self.page.wait_for_load_state("load")

    def type(self, text: str) -> None:
        """Type where the focus is, as a person whose keyboard is up."""
        self.page.keyboard.type(text)

    def fill(self, **typed: str) -> None:
        """Type into fields by their names; `__` stands for `-`."""
        for name, text in typed.items():
            self.page.fill(f"#id_{name.replace('__', '-')}", text)

    def says(self, text: str) -> None:
        """Assert that the page says something, with its spaces as they are read."""
        words = " ".join(self.page.inner_text("main").split())
        assert text in words, words


@pytest.fixture
def bench(chromium, live_server):
    """Return a function that gives a person a browser, 360 px wide unless it is said otherwise."""
    opened = []

    def at(hand: Hand, width: int = 360, script: bool = True, scheme: str = "light") -> Bench:
        context = chromium.new_context(
            viewport={"width": width, "height": 760},
            color_scheme=scheme,
            java_script_enabled=script,
            base_url=f"{live_server.url}/w/{hand.actor.slug}/",
        )
        opened.append(context)
        signed_in = Client()
        signed_in.force_login(User.objects.get(memberships__pk=hand.actor.member_id))
        cookie = signed_in.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        context.set_default_timeout(PATIENCE_MS)
        one = Bench(context.new_page())
        _listen(one, live_server.url)
        return one

    yield at
    for context in opened:
        context.close()


def _listen(one: Bench, home: str) -> None:
    def said(message: Any) -> None:
        if message.type in ("error", "warning"):
            one.complaints.append(message.text)

    def asked(request: Any) -> None:
        if not request.url.startswith((home, "data:", "blob:")):
            one.complaints.append(request.url)

    one.page.on("console", said)
    one.page.on("pageerror", lambda error: one.complaints.append(str(error)))
    one.page.on("request", asked)
