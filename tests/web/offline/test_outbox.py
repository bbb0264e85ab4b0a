"""Recording without network, in a real browser: once each, in order, by whoever made it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from recycling.ledger.models import Entry
from recycling.models import ChangeEvent, Member, Run, User
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origins_page
from recycling.queries.runs.runs import run_page
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_open import run_open
from tests.factories import (
    KG,
    PASSWORD,
    START,
    MachineFactory,
    OriginFactory,
    WorkshopFactory,
)
from tests.waiting import PATIENCE_MS
from tests.web.offline.conftest import ALL_KEPT, CANARIES, WAITING, says, sign_in, until

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
CACHED = """async () => {
    const found = {};
    for (const name of await caches.keys()) {
        const cache = await caches.open(name);
        for (const request of await cache.keys()) {
            const {pathname} = new URL(request.url);
            found[`${name} ${pathname}`] = await (await cache.match(request)).text();
        }
    }
    return found;
}"""
SENT = """async () => {
    await outboxPage.send();
    await navigator.locks.request('outbox', () => {});
}"""
TWICE = """() => {
    const form = document.querySelector('form[data-outbox]');
    form.requestSubmit();
    form.submit();
}"""


def donate(page, gross: str = "5.5 kg", source: str = "North school") -> None:
    """Record a collection; the kept copy asks for the source's name, the page for a choice."""
    page.goto("collections/new/")
    field = page.locator("[name=source]").first
    if field.get_attribute("type") == "radio":
        page.check(f"label:has-text('{source}')")
    else:
        field.fill(source)
    page.fill("#id_bags-0-gross", gross)
    page.click("main button.button-main")


def sort(page, lot: str, mass: str, out: str) -> None:
    page.goto("record/sort/")
    page.fill("#id_inputs-0-code", lot)
    page.fill("#id_inputs-0-mass", mass)
    page.locator("[name$='-gross'], [name$='-net']").first.wait_for(state="attached")
    for row in page.query_selector_all("details.fold:not([open]) > summary")[:1]:
        row.click()
    page.locator("[name^='outputs-'][name$='-gross']").first.fill(out)
    page.click("main button.button-main")


def collections(actor) -> int:
    return len(origins_page(actor, kind="collection").rows)


def is_sent(page, count: int) -> None:
    page.goto("outbox/")
    until(page, lambda: states(page).count("recorded") == count)


def states(page) -> list[str]:
    return [state for state, _title, _owner in page.evaluate(WAITING)]


def test_a_donation_and_a_sorting_arrive_once_and_in_order(tab, context, lead, bottles):
    """Cut off as browsers do it; reloaded, closed and opened again before the network is back."""
    before = datetime.now(UTC)
    context.set_offline(True)
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    says(tab, "[data-outbox-line]", "1 entry waiting")
    sort(tab, bottles, "2 kg", "1.9 kg")
    tab.wait_for_selector("[data-outbox-list] section:nth-child(2)")
    after = datetime.now(UTC)
    tab.reload()
    tab.close()
    again = context.new_page()
    again.goto("record/")
    says(again, "[data-outbox-line]", "2 entries waiting")
    assert collections(lead) == 0 and not Run.objects.filter(stage="sort")
    context.set_offline(False)
    is_sent(again, 2)
    assert collections(lead) == 1 and Run.objects.filter(stage="sort").count() == 1
    assert lot_page(lead, bottles).mass_mg == 3 * KG
    entries = Entry.objects.order_by("sequence").values_list("kind", "happened_at")
    kinds = [run.stage for run in Run.objects.order_by("number")]
    assert kinds[-2:] == ["receive", "sort"], "in the order they were made"
    collected, sorted_at = [happened_at for _kind, happened_at in entries][-2:]
    minute = timedelta(minutes=1)
    assert before - minute <= collected <= after, "when it happened, not when it arrived"
    assert before - minute <= sorted_at <= after


def test_the_time_is_that_at_the_bench(tab, wire, context, lead):
    """Two hours pass before the network is back; the clock of the device is moved."""
    context.clock.set_fixed_time(datetime.now(UTC) - timedelta(hours=2))
    wire.cut()
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    context.clock.set_fixed_time(datetime.now(UTC))
    made_at = tab.evaluate("async () => (await outbox.entries())[0].made_at")
    wire.state = "up"
    is_sent(tab, 1)
    happened_at = Run.objects.get(stage="receive").started_at
    assert abs(happened_at - datetime.fromisoformat(made_at)) < timedelta(seconds=1)


def test_an_answer_that_is_lost_makes_no_second_entry(tab, wire, lead):
    """The service handles the first request; the wire loses what it says, twice."""
    page = tab
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.5 kg")
    wire.state = "deaf"
    page.click("main button.button-main")
    page.wait_for_url("**/outbox/")
    assert collections(lead) == 1 and wire.lost >= 1, "recorded, and nobody here knows"
    assert page.evaluate(WAITING) == [["waiting", "Record a collection", str(lead.reference)]]
    page.click("[data-send]")
    page.wait_for_selector("[data-stop=away]:not([hidden])")
    assert wire.lost >= 2
    wire.state = "up"
    page.click("[data-send]")
    page.wait_for_selector("text=Recorded")
    assert collections(lead) == 1


def test_pressing_twice_waits_once(tab, wire, lead):
    wire.cut()
    tab.goto("collections/new/")
    tab.fill("[name=source]", "North school")
    tab.fill("#id_bags-0-gross", "5.5 kg")
    tab.evaluate(TWICE)
    tab.wait_for_url("**/outbox/")
    assert len(tab.evaluate(WAITING)) == 1


def test_bags_are_added_without_network(tab, wire, lead):
    wire.cut()
    tab.goto("collections/new/")
    tab.fill("[name=source]", "North school")
    tab.fill("#id_bags-0-gross", "5.5 kg")
    tab.click("text=Add a bag")
    tab.fill("#id_bags-1-gross", "3200")
    tab.click("main button.button-main")
    tab.wait_for_url("**/outbox/")
    wire.state = "up"
    is_sent(tab, 1)
    origin = origins_page(lead, kind="collection").rows[0]
    assert origin.mass_mg == 8_700_000


def test_a_refusal_stays_until_it_is_put_right(tab, wire, lead):
    wire.cut()
    donate(tab, gross="5.5")
    donate(tab, gross="3 kg")
    wire.state = "up"
    is_sent(tab, 1)
    tab.goto("record/")
    says(tab, "[data-outbox-line]", "1 entry was refused: look at it")
    tab.reload()
    tab.goto("outbox/")
    tab.wait_for_selector(".outbox-problems :text('unit')")
    assert collections(lead) == 1, "a refused one does not hold up the next"
    tab.click("text=Put it right and send it again")
    assert tab.input_value("#id_bags-0-gross") == "5.5", "all that was typed is there"
    tab.fill("#id_bags-0-gross", "5.5 kg")
    tab.click("main button.button-main")
    tab.wait_for_selector(".saved")
    assert collections(lead) == 2
    tab.goto("outbox/")
    until(tab, lambda: "refused" not in states(tab))
    expect(tab.locator("main")).not_to_contain_text("Refused")


def test_what_is_discarded_is_kept_in_the_history_with_its_reason(tab, wire, lead):
    wire.cut()
    donate(tab, gross="5.5")
    wire.state = "up"
    tab.wait_for_selector(".outbox-problems li", timeout=PATIENCE_MS)
    tab.click("summary:has-text('Discard it')")
    tab.click("button:has-text('Discard it')")
    expect(tab.locator("section[data-tone=stop]")).to_have_count(1)  # not without a reason
    tab.fill("[name=reason]", "Weighed twice")
    tab.click("button:has-text('Discard it')")
    tab.wait_for_selector("text=Discarded: Weighed twice")
    event = ChangeEvent.objects.get(subject="outbox")
    assert (event.deed, event.reason, event.actor) == ("discard", "Weighed twice", lead.reference)
    assert "5.5" in event.before["entry"] and event.before["key"].startswith("wait-")
    assert collections(lead) == 0


@pytest.mark.parametrize("gone", ["sessionid", "csrftoken"])
def test_an_expired_session_asks_to_sign_in_and_then_sends(tab, context, wire, lead, gone):
    """The session or the token ends while a form is filled in: what is sent waits."""
    tab.goto("collections/new/")
    tab.check("label:has-text('North school')")
    tab.fill("#id_bags-0-gross", "5.5 kg")
    context.clear_cookies(name=gone)
    tab.click("main button.button-main")
    if gone == "sessionid":
        tab.wait_for_url(re.compile(r"/sign-in/\?next=/w/quay/outbox/$"))
        says(tab, "[data-outbox-line]", "1 entry waiting")
        assert collections(lead) == 0
        tab.fill("#id_username", User.objects.get(memberships__pk=lead.member_id).username)
        tab.fill("#id_password", PASSWORD)
        tab.click("main button.button-main")
    tab.wait_for_url("**/outbox/")
    until(tab, lambda: states(tab) == ["recorded"])
    assert collections(lead) == 1


def test_signing_out_keeps_what_waits_and_clears_the_pages(tab, context, wire, lead):
    wire.cut()
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    assert any(name.startswith("pages-quay") for name in tab.evaluate(CACHED))
    tab.click("details.who summary")
    tab.click("text=Sign out")
    tab.wait_for_selector("h1:has-text('Signed out')")
    assert not any(name.startswith("pages-") for name in tab.evaluate(CACHED))
    wire.state = "up"
    tab.goto("record/")
    tab.wait_for_url("**/sign-in/**")
    assert collections(lead) == 0, "the session ended before anything could be sent"
    assert states(tab) == ["waiting"]
    sign_in(context, f"http://localhost:{wire.port}", lead)
    is_sent(tab, 1)
    assert collections(lead) == 1


def test_another_person_does_not_send_what_they_did_not_make(tab, context, wire, lead, member):
    wire.cut()
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    context.clear_cookies()
    wire.state = "up"
    sign_in(context, f"http://localhost:{wire.port}", member)
    tab.goto("outbox/")
    tab.wait_for_selector("[data-outbox-list] >> text=Made by somebody else")
    tab.click("[data-send]")
    tab.evaluate(SENT)
    assert "5.5" not in tab.inner_text("[data-outbox-list]"), "nor read it"
    assert not tab.locator("[data-outbox-list] button:visible").count()
    assert collections(lead) == 0
    donate(tab, gross="2 kg")
    tab.wait_for_url("**/outbox/")
    until(tab, lambda: "recorded" in states(tab))
    assert collections(lead) == 1
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", lead)
    is_sent(tab, 2)
    assert collections(lead) == 2
    by = Run.objects.filter(stage="receive").order_by("number").values_list("operators", flat=True)
    assert list(by) == [member.member_id, lead.member_id]


def test_an_answer_that_says_later_is_no_refusal(tab, context, wire, lead):
    """A service that is ill or busy has not refused: the same entry is sent again."""
    context.set_offline(True)
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    status = {"now": 503}
    tab.route("**/collections/new/", lambda route: route.fulfill(status=status["now"]))
    context.set_offline(False)
    tab.goto("outbox/")
    for status["now"] in (503, 500, 429, 408):
        tab.evaluate("outboxPage.send()")
        tab.wait_for_selector("[data-stop=unsure]:not([hidden])")
        assert states(tab) == ["waiting"], status
    tab.unroute("**/collections/new/")
    is_sent(tab, 1)
    assert collections(lead) == 1


def test_a_page_of_before_does_not_send_in_the_name_of_the_next(tab, context, wire, lead, member):
    """The page still takes itself for the lead's; the service is asked before anything is sent."""
    context.set_offline(True)
    donate(tab)
    tab.wait_for_selector("[data-outbox-list] section")
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", member)
    posts = []
    tab.on("request", lambda one: posts.append(one.url) if one.method == "POST" else None)
    context.set_offline(False)
    tab.evaluate("outboxPage.send()")
    tab.wait_for_selector("[data-stop=other]:not([hidden])")
    assert states(tab) == ["waiting"] and not posts and collections(lead) == 0


def test_a_page_that_was_open_before_stays_with_whoever_opened_it(tab, context, wire, lead, member):
    """The page's token is not the new session's; what is sent from it waits for its own person."""
    tab.goto("collections/new/")
    tab.check("label:has-text('North school')")
    tab.fill("#id_bags-0-gross", "5.5 kg")
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", member)
    beside = context.new_page()
    beside.goto(f"http://localhost:{wire.port}/w/quay/outbox/")
    beside.wait_for_function("() => outbox.holder('quay').then(one => one && one.member)")
    tab.click("main button.button-main")
    tab.wait_for_url("**/outbox/")
    tab.wait_for_selector("[data-outbox-list] >> text=Made by somebody else")
    assert [owner for *_rest, owner in tab.evaluate(WAITING)] == [str(lead.reference)]
    assert collections(lead) == 0


def test_an_entry_sent_in_another_name_is_refused_by_the_service(tab, member):
    """The last door, should who is signed in change between the question and the sending."""
    status = tab.evaluate(
        """async owner => {
            const {token} = await (await fetch('/w/quay/outbox/who/')).json();
            const body = new URLSearchParams({csrfmiddlewaretoken: token});
            const sent = {method: 'POST', body, headers: {'X-Outbox-Member': owner}};
            return (await fetch('/w/quay/collections/new/', sent)).status;
        }""",
        str(member.reference),
    )
    assert status == 412


def test_nothing_personal_is_in_what_a_device_keeps(bottles, member, tab):
    cached = tab.evaluate(CACHED)
    pages = {name: text for name, text in cached.items() if name.startswith("pages-")}
    assert len(pages) > 20
    for name, text in cached.items():
        assert "Canaria" not in text, name
    for reference in Member.objects.values_list("reference", flat=True):
        assert not any(str(reference) in text for text in cached.values())
    assert bottles in pages["pages-quay /w/quay/record/sort/"], "lots last seen are at hand"
    assert "North school" in pages["pages-quay /w/quay/collections/new/"]
    for text in pages.values():
        for field in ("csrfmiddlewaretoken", "idempotency_key"):
            assert f'name="{field}" value=""' in text or field not in text


def test_the_page_itself_names_whom_the_copy_does_not(tab, lead, member):
    """So that the test above can fail."""
    tab.goto("record/sort/")
    page = tab.content()
    assert CANARIES["lead"] in page and CANARIES["member"] in page
    tab.goto("collections/new/")
    assert CANARIES["household"] in tab.content()


@pytest.fixture
def going_on(lead) -> str:
    """An extrusion that goes on."""
    put = (BagEntry(3 * KG, form="dried flake", polymer="PET"),)
    lot = OriginFactory(actor=lead, happened_at=START, bags=put).lots[0].code
    MachineFactory(actor=lead, name="The extruder", kind="extruder")
    draws = (DrawEntry(lot, mass_mg=2 * KG),)
    began = datetime.now(UTC) - timedelta(minutes=5)
    return run_open(lead, RunEntry("extrude", began, machine="The extruder", inputs=draws)).code


def test_taps_on_the_page_of_a_run_wait_too(tab, context, lead, going_on):
    """A tap that notes what was seen, and a setting: in words, in order, and once."""
    tab.goto(f"runs/{going_on}/")
    context.set_offline(True)
    tab.click("button:has-text('bubbles')")
    tab.wait_for_selector("[data-outbox-list] section")
    tab.wait_for_selector("[data-outbox-list] >> text=bubbles")
    (entry,) = tab.evaluate("outbox.entries()")
    assert entry["fields"] == [["checks-seen", "bubbles"]], "nothing of how it travels"
    assert entry["path"] == f"/w/quay/runs/{going_on}/note/"
    assert not run_page(lead, going_on).checks
    context.set_offline(False)
    is_sent(tab, 1)
    assert [one.value for one in run_page(lead, going_on).checks] == ["bubbles"]
    tab.goto(f"runs/{going_on}/")
    tab.fill("#quick-zone_1_c", "255")
    tab.click("text=Note what was changed")
    tab.wait_for_url(f"**/runs/{going_on}/")
    assert tab.locator(".messages").inner_text().strip(), "what was noted is said on the page"
    assert [one.value for one in run_page(lead, going_on).settings] == ["255"]


def test_another_workshop_finds_no_pages_of_this_one(tab, context, wire, lead):
    other = WorkshopFactory(slug="mill", name="Old mill")
    context.clear_cookies()
    sign_in(context, f"http://localhost:{wire.port}", other)
    tab.goto("/w/mill/record/")
    until(tab, lambda: tab.evaluate(ALL_KEPT, ""))
    kept_for = {name.split()[0] for name in tab.evaluate(CACHED)}
    assert "pages-mill" in kept_for and "pages-quay" not in kept_for
