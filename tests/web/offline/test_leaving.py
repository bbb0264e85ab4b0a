"""Sign-out without network, in a real browser: seen at once, told before anything else."""

from __future__ import annotations

import pytest

from recycling.models import UserSession as Session
from recycling.records.people import MemberChange
from recycling.services.people.members import member_change
from tests.factories import WorkshopFactory
from tests.web.offline.conftest import CANARIES, kept, sign_in
from tests.web.offline.test_outbox import CACHED, collections, donate, is_sent, states

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
LEFT = "async () => (await holder.left()) ?? null"


def sign_out(page) -> None:
    page.click("details.who summary")
    page.click("text=Sign out")
    page.wait_for_selector("h1:has-text('Signed out')")


def ended(page) -> bool:
    """Say whether the service knows that nobody is signed in."""
    return page.evaluate("async () => (await holder.who('quay')).stop") == "sign-in"


@pytest.mark.parametrize("kept_copy", [True, False])
def test_the_service_is_told_before_what_waits_is_sent(tab, context, wire, lead, kept_copy):
    """The page is left open: nobody touches it until the network is back."""
    beside = context.new_page()
    tab.goto("stock/")
    context.set_offline(True)
    donate(beside)
    beside.wait_for_selector("[data-outbox-list] section")
    if kept_copy:
        tab.goto("record/")
    assert CANARIES["lead"] in tab.inner_text("body")
    sign_out(tab)
    assert "does not know of it yet" in tab.inner_text("main")
    beside.evaluate("outboxPage.send()")
    for page in (tab, beside):
        page.wait_for_function(f"() => !document.body.innerText.includes('{CANARIES['lead']}')")
    assert not any(name.startswith("pages-") for name in tab.evaluate(CACHED))
    asked = []
    context.on("request", lambda one: asked.append((one.method, one.url)))
    context.set_offline(False)
    beside.wait_for_url("**/sign-in/")
    tab.wait_for_url("**/sign-in/")
    assert ended(tab) and not Session.objects.exists()
    posts = [url for method, url in asked if method == "POST"]
    assert len(posts) == 1 and posts[0].endswith("/sign-out/")
    assert states(tab) == ["waiting"] and collections(lead) == 0
    sign_in(context, f"http://localhost:{wire.port}", lead)
    is_sent(tab, 1)
    assert collections(lead) == 1, "once whoever made it is back, and once"


def test_a_device_that_was_closed_tells_it_when_it_is_opened_again(tab, context, lead):
    """The worker tells it before it fetches the page, so that the page is not seen."""
    context.set_offline(True)
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    sign_out(tab)
    tab.close()
    context.set_offline(False)
    again = context.new_page()
    seen = []
    again.on("framenavigated", lambda frame: seen.append(frame.url))
    again.goto("stock/")
    assert "/sign-in/" in again.url and seen == [again.url], "no page of theirs is seen"
    assert again.evaluate(LEFT) is None and states(again) == ["waiting"]
    assert not Session.objects.exists()


def test_the_session_of_the_next_person_is_not_ended(tab, context, wire, lead, member):
    context.set_offline(True)
    tab.goto("record/")
    sign_out(tab)
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", member)
    context.set_offline(False)
    tab.wait_for_selector("[data-acting-name]")
    assert tab.evaluate(LEFT) is None
    assert tab.inner_text("[data-acting-name]") == CANARIES["member"]


def test_the_session_of_whoever_was_removed_meanwhile_is_ended(context, wire, lead, member):
    """They are in no workshop any more, but signed in; the next one on the device is not them."""
    sign_in(context, f"http://localhost:{wire.port}", member)
    page = context.new_page()
    kept(page)
    context.set_offline(True)
    page.goto("record/")
    sign_out(page)
    member_change(lead, member.member_id, MemberChange(active=False))
    context.set_offline(False)
    page.wait_for_url("**/sign-in/")
    assert page.evaluate(LEFT) is None and not Session.objects.exists()


def test_the_session_of_the_next_one_is_not_ended_for_one_who_was_removed(
    context, wire, lead, member
):
    stranger = WorkshopFactory(slug="mill", name="Old mill")
    sign_in(context, f"http://localhost:{wire.port}", member)
    page = context.new_page()
    kept(page)
    context.set_offline(True)
    page.goto("record/")
    sign_out(page)
    member_change(lead, member.member_id, MemberChange(active=False))
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", stranger)
    sessions = Session.objects.count()
    context.set_offline(False)
    page.wait_for_function("async () => !(await holder.left())")
    assert Session.objects.count() == sessions


def test_with_a_network_it_is_told_at_once(tab):
    tab.goto("stock/")
    tab.click("details.who summary")
    tab.click("text=Sign out")
    tab.wait_for_url("**/sign-in/")
    assert ended(tab) and tab.evaluate(LEFT) is None


def test_an_answer_that_fails_is_asked_for_again(tab, lead):
    """A service that is ill says nothing: what is to be told stays to be told."""
    tab.goto("stock/")
    tab.route("**/sign-out/", lambda route: route.fulfill(status=503))
    tab.evaluate("navigator.serviceWorker.getRegistration().then(one => one.unregister())")
    sign_out(tab)
    tab.wait_for_selector("[data-untold]:visible")
    assert tab.evaluate(LEFT)["path"] == "/sign-out/" and not ended(tab)
    tab.unroute("**/sign-out/")
    tab.evaluate("outboxPage.send()")
    tab.wait_for_url("**/sign-in/")
    assert ended(tab)
