"""A lot that was seen, and what is recorded of it, without network, in a real browser."""

from __future__ import annotations

import pytest

from recycling.models import Draw, Member, Run
from recycling.queries.lots.lots import lot_page
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.services.lots.holds import hold_place
from recycling.services.lots.lot_notes import lot_event
from tests.factories import START, WorkshopFactory
from tests.web.offline.conftest import ALL_KEPT, CANARIES, until
from tests.web.offline.test_outbox import CACHED, is_sent

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
KEPT = """async () => {
    const requests = await (await caches.open('pages-quay')).keys();
    return requests.map(one => new URL(one.url).pathname);
}"""
FILL = """async () => {
    const copies = await caches.open('pages-quay');
    for (let n = 1; n <= 20; n += 1) {
        for (const end of ['', 'count/']) {
            await copies.put(`/w/quay/lots/L${n}-A/${end}`, new Response('a lot'));
        }
    }
}"""


def cached(page) -> dict[str, str]:
    found = page.evaluate(CACHED)
    return {name.removeprefix("pages-quay "): text for name, text in found.items()}


def look_at(page, lot: str) -> None:
    """Open a lot's page, and wait until the device has kept it with what is recorded of it."""
    page.goto(f"lots/{lot}/")
    until(page, lambda: page.evaluate(ALL_KEPT, f"?lot={lot}"))


def test_a_lot_seen_before_opens_with_the_forms_of_it(bottles, tab, context):
    look_at(tab, bottles)
    context.set_offline(True)
    tab.goto(f"lots/{bottles}/")
    assert "this page was kept at" in tab.inner_text("[role=status]")
    assert bottles in tab.inner_text("h1") and "5" in tab.inner_text(".figure-large")
    assert "A hold does not wait" in tab.inner_text("main")
    assert not tab.query_selector("main [href*=hold]")
    named = [
        ("Note an event", "Note what happened to it"),
        ("Count it", "Count this lot"),
        ("Sort", "Sort"),
        ("Dispatch", "Dispatch"),
    ]
    for button, heading in named:
        tab.goto(f"lots/{bottles}/")
        tab.click(f"main a.button:text-is('{button}')")
        assert tab.inner_text("h1") == heading, button
        assert "this page was kept at" in tab.inner_text("body")
        if button in ("Sort", "Dispatch"):
            assert tab.is_checked(f"[name=whole-lots][value='{bottles}']"), "that one, all of it"


def test_no_person_is_in_what_is_kept_of_a_lot(tab, lead, member, bottles):
    """Reasons and notes are free text, where people write names; the page itself has them."""
    hold_place(member, HoldEntry(bottles, "Canaria says it smells", False))
    lot_event(member, LotEventEntry(bottles, "note", START, note="Canaria was here"))
    look_at(tab, bottles)
    page = tab.content()
    assert CANARIES["member"] in page and "Canaria says" in page and "Canaria was" in page
    kept = {path: text for path, text in cached(tab).items() if f"/lots/{bottles}/" in path}
    assert len(kept) >= 2
    for path, text in kept.items():
        assert "Canaria" not in text and str(member.reference) not in text, path
        assert str(lead.reference) not in text, path
    assert "on hold" in kept[f"/w/quay/lots/{bottles}/"].lower()
    assert f"/w/quay/lots/{bottles}/hold/" not in kept, "it is held already"


def test_lots_seen_longest_ago_make_room(tab, bottles):
    tab.evaluate(FILL)
    look_at(tab, bottles)
    until(tab, lambda: "/w/quay/lots/L1-A/" not in tab.evaluate(KEPT))
    found = tab.evaluate(KEPT)
    lots = {path.split("/")[4] for path in found if path.startswith("/w/quay/lots/")}
    assert lots == {bottles, *(f"L{n}-A" for n in range(2, 21))}
    assert "/w/quay/lots/L1-A/count/" not in found


def test_pages_that_are_kept_anew_leave_the_lots_seen(tab, lead, bottles):
    look_at(tab, bottles)
    tab.evaluate(
        """async () => {
            (await caches.open('pages-quay')).put('/w/quay/record/gone/', new Response('old'));
            await outbox.hold({...await outbox.holder('quay'), kept_at: 0});
        }"""
    )
    tab.goto("record/")
    until(tab, lambda: "/w/quay/record/gone/" not in tab.evaluate(KEPT))
    found = tab.evaluate(KEPT)
    assert f"/w/quay/lots/{bottles}/" in found and "/w/quay/record/sort/" in found


def test_another_workshop_waits_for_the_network_and_the_page_says_so(tab, context, lead):
    elsewhere = WorkshopFactory(slug="mill", name="Old mill")
    Member.objects.filter(pk=elsewhere.member_id).update(
        user=Member.objects.get(pk=lead.member_id).user
    )
    tab.goto("stock/")
    context.set_offline(True)
    tab.click("details.who summary")
    tab.click("button:has-text('Old mill')")
    tab.wait_for_selector("h1:has-text('No network')")
    context.set_offline(False)
    tab.go_back()
    tab.click("details.who summary")
    tab.click("button:has-text('Old mill')")
    tab.wait_for_url("**/w/mill/**")


def record(page, lot: str, button: str, waiting: int, *, check: str = "", **typed: str) -> None:
    """Record something of a lot on its kept page, until so many entries wait."""
    page.goto(f"lots/{lot}/")
    page.click(f"main a.button:text-is('{button}')")
    if check:
        page.check(f"[name=kind][value={check}]")
    for name, text in typed.items():
        page.fill(f"[name='{name}']", text)
    page.click("main button.button-main")
    page.wait_for_selector(f"[data-outbox-list] section:nth-child({waiting})")


def test_what_is_recorded_of_a_lot_that_was_seen_reaches_the_book(tab, context, lead, bottles):
    """It is moved, counted and given away, all of it, without network."""
    look_at(tab, bottles)
    context.set_offline(True)
    record(tab, bottles, "Note an event", 1, check="moved", place="shelf 3")
    record(tab, bottles, "Count it", 2, **{"counts-0-mass": "4.9 kg"})
    record(tab, bottles, "Dispatch", 3, **{"checks-receiver": "Repair café"})
    context.set_offline(False)
    is_sent(tab, 3)
    lot = lot_page(lead, bottles)
    assert lot.mass_mg == 0 and lot.events[0].place == "shelf 3"
    given = Run.objects.get(stage="dispatch")
    assert Draw.objects.get(run=given).mass_mg == 4_900_000, "what was left by the count before"
    assert given.operators.get().pk == lead.member_id
