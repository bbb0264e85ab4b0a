"""The menu: few entries by role, the open one marked, and a bar under the thumb on a phone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client

from recycling.models import User
from recycling.records.actors import Actor
from recycling.web.pages.menu import BELONGS, ENTRIES, LABELS, OTHERWISE, menu_of
from shared.roles import ROLES
from tests.web.recording.conftest import hand_of, operator, set_up, viewer

__all__ = ["operator", "viewer"]
MOST = 6
ON_A_BAR = 5
WEB = Path(__file__).parents[3] / "recycling" / "web"
PLACE = re.compile(r"""["']nav["']: ["']([\w-]*)["']|\bnav=["']([\w-]*)["']""")


@pytest.fixture
def lead(db):
    """Made for each test: the threads of a server must see it."""
    return hand_of(set_up())


def entries(page: str, kind: str = "nav-wide") -> list[tuple[str, str]]:
    """Give the entries of a menu: what each says, and how it is marked."""
    nav = re.search(rf'<nav class="{kind}".*?</nav>', page, re.S)
    assert nav, "the page has a menu"
    found = re.findall(r'<a href="[^"]+"(?: aria-current="(\w+)")?>([^<]+)', nav[0])
    return [(label, mark) for mark, label in found]


def test_a_person_who_only_records_has_fewer_entries(lead, operator, viewer):
    said = [
        [label for label, _ in entries(hand.open("").content.decode())]
        for hand in (lead, operator, viewer)
    ]
    assert said[0] == ["Today", "Record", "Stock", "Trace", "Reports", "Workshop"]
    assert said[1] == ["Today", "Record", "Stock", "Trace"]
    assert said[2] == ["Today", "Stock", "Trace", "Reports"]
    assert max(map(len, said)) <= MOST


def test_every_entry_opens_for_who_has_it(lead, operator, viewer):
    for hand in (lead, operator, viewer):
        for entry in menu_of(hand.actor, "", "").entries:
            page = Client()
            page.force_login(User.objects.get(memberships__pk=hand.actor.member_id))
            assert page.get(entry.url).status_code == 200, entry.url


def test_one_entry_is_marked_as_the_page_or_as_what_holds_it(lead):
    marked = [one for one in entries(lead.open("stock/").content.decode()) if one[1]]
    assert marked == [("Stock", "page")]
    marked = [one for one in entries(lead.open("spools/").content.decode()) if one[1]]
    assert marked == [("Stock", "true")]
    marked = [one for one in entries(lead.open("energy/").content.decode()) if one[1]]
    assert marked == [("Reports", "true")]


def places() -> set[str]:
    """Every place that a page of the program says it is at."""
    read = "".join(path.read_text(encoding="utf-8") for path in WEB.rglob("*.py"))
    named = {one or other for one, other in PLACE.findall(read)} - {""}
    assert len(named) > len(LABELS)
    return named


@pytest.mark.parametrize("role", ROLES)
def test_each_place_belongs_to_an_entry_of_everybody(role):
    actor = Actor(1, "Quay", "quay", "UTC", 1, None, "Ada", role)
    for place in places():
        marked = [one.key for one in menu_of(actor, place, "/").entries if one.current]
        assert len(marked) == 1, f"{place} marks {marked} for a {role}"


def test_where_pages_belong_is_an_entry():
    assert set(BELONGS.values()) <= set(LABELS)
    assert {other for one in OTHERWISE.values() for other in one.values()} <= set(LABELS)
    assert all(set(one) <= set(LABELS) for one in ENTRIES.values())


@pytest.mark.parametrize("who", ["lead", "operator", "viewer"])
def test_a_phone_has_at_most_five_keys_and_loses_none(who, request):
    hand = request.getfixturevalue(who)
    page = hand.open("").content.decode()
    wide, bar = entries(page), entries(page, "nav-bar")
    assert {label for label, _ in wide} | {"Scan"} == {label for label, _ in bar}
    menu = menu_of(hand.actor, "today", "")
    assert len(menu.bar) + 1 + bool(menu.more) <= ON_A_BAR


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_the_bar_stands_under_the_thumb_and_over_nothing(lead, chromium, live_server):
    """Without script: keys within 360 × 640 px, a finger high, the page's end above them."""
    signed_in = Client()
    signed_in.force_login(User.objects.get(memberships__pk=lead.actor.member_id))
    context = chromium.new_context(
        viewport={"width": 360, "height": 640},
        java_script_enabled=False,
        base_url=f"{live_server.url}/w/{lead.actor.slug}/",
    )
    cookie = signed_in.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page = context.new_page()
    page.goto("stock/")
    bar = page.locator(".nav-bar")
    keys = [one.bounding_box() for one in bar.locator("> ul > li").all()]
    assert all(key["height"] >= 44 and key["width"] >= 60 for key in keys), keys
    assert {round(key["y"] + key["height"]) for key in keys} == {640}
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    foot = page.locator(".foot").bounding_box()
    assert foot["y"] + foot["height"] <= keys[0]["y"] + 1
    page.locator(".nav-more summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/trace/")
    assert page.locator(".nav-bar [aria-current=page]").text_content() == "Trace"
    page.set_viewport_size({"width": 320, "height": 256})
    assert page.locator(".nav-bar").evaluate("one => getComputedStyle(one).position") == "static"
    page.emulate_media(media="print")
    assert not page.locator(".nav-bar").is_visible()
    context.close()
