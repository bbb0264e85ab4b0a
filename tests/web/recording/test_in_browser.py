"""The recording pages in a real browser: nothing too small, too wide, shut or complaining."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from recycling.models import User
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origins_page
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_open import run_open
from tests.factories import START
from tests.web.recording.conftest import Hand, hand_of, set_up

pytestmark = [pytest.mark.browser, pytest.mark.slow]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LEAST_TARGET = 44
TOO_SMALL = """least => [...document.querySelectorAll(
    'button, summary, select, textarea, input:not([type=hidden]), .step, .button, .check'
)].filter(one => {
    const box = (one.closest('label') || one).getBoundingClientRect();
    return box.width > 0 && (box.height < least || box.width < least);
}).map(one => one.outerHTML.slice(0, 90))"""
TOO_WIDE = "document.documentElement.scrollWidth > window.innerWidth"


@pytest.fixture
def lead(db) -> Hand:
    """Made for each test: the threads of the server must see it."""
    return hand_of(set_up())


@pytest.fixture
def tab(chromium, live_server, lead):
    """Return a function that opens a page of the lead's, as wide and as light as is asked."""
    opened = []

    def at(width: int, scheme: str, script: bool = True, csp: bool = True):
        context = chromium.new_context(
            viewport={"width": width, "height": 800},
            color_scheme=scheme,
            java_script_enabled=script,
            bypass_csp=not csp,
            base_url=f"{live_server.url}/w/quay/",
        )
        signed_in = Client()
        signed_in.force_login(User.objects.get(memberships__pk=lead.actor.member_id))
        cookie = signed_in.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        opened.append(context)
        return context.new_page()

    yield at
    for context in opened:
        context.close()


@pytest.fixture
def pages(lead, bag):
    run = run_open(lead.actor, RunEntry("dry", START, inputs=(DrawEntry(bag("flake"), mass_mg=9),)))
    lot = bag("filament")
    posting = lot_page(lead.actor, lot).postings[0].posting
    names = ["record/", "collections/new/", "opening/new/", "record/sort/", "record/extrude/"]
    names += [f"runs/{run.code}/{name}/" for name in ("draw", "output", "note", "close", "void")]
    names += [f"lots/{lot}/{name}/" for name in ("hold", "event", "verdict", "count")]
    return [*names, "set-up/", "set-up/scales/", "set-up/keys/", f"postings/{posting}/correct/"]


@pytest.mark.django_db(transaction=True)
def test_choices_with_an_error_fit_a_phone(tab, bag):
    page = tab(360, "light")
    page.goto(f"lots/{bag('filament')}/verdict/")
    page.click("main button.button-main")
    page.wait_for_selector(".field-choices .field-error")
    assert not page.evaluate(TOO_WIDE)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("width, scheme", [(360, "light"), (360, "dark"), (1280, "light")])
def test_every_page_fits_and_can_be_pressed_with_gloves(tab, pages, width, scheme):
    page, said = tab(width, scheme), []
    page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda sent: said.append(sent.url) if "localhost" not in sent.url else None)
    for name in pages:
        assert page.goto(name).status == 200, name
        assert not page.evaluate(TOO_WIDE), name
        assert not page.evaluate(TOO_SMALL, LEAST_TARGET), name
    assert not said


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_shuts_anyone_out(tab, pages, scheme):
    """Success criteria of WCAG 2.2 A and AA, as axe-core can test them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    page = tab(360, scheme, csp=False)
    for name in pages:
        page.goto(name)
        found = axe.Axe().run(page, options={"runOnly": RULES}).response["violations"]
        assert not [(one["id"], one["nodes"][0]["html"]) for one in found], name


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("script", [True, False])
def test_a_donation_of_two_bags(tab, lead, script):
    """Known source, known container, one more bag; with script and without."""
    page = tab(360, "light", script)
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.5")
    page.click("text=Record the collection")
    assert "Nothing is recorded yet" in page.inner_text("#error-summary")
    if script:
        assert page.evaluate("document.activeElement.id") == "error-summary"
    page.fill("#id_bags-0-gross", "5.5 kg")
    if script:
        page.click("button:has-text('Blue crate')")
        assert page.inner_text(".net output") == "4.250\xa0kg"
    else:
        page.select_option("#id_bags-0-container", index=1)
    page.click("text=Add a bag")
    page.fill("#id_bags-1-gross", "3200")
    page.click("text=Record the collection")
    if not script:
        page.click("main button.button-main")
    page.wait_for_selector(".saved")
    assert "6.200\xa0kg" in page.inner_text(".saved"), "the tare is carried over to the next bag"
    assert len(origins_page(lead.actor, kind="collection").rows) == 1


def test_a_link_sets_a_password_in_a_browser(live_server, chromium, operator, lead):
    made = lead.fill(path := f"set-up/members/{operator.actor.member_id}/password/")
    link = re.search(r"/password/[\w-]+/", lead.send(path, made).content.decode())[0]
    page = chromium.new_page()
    page.goto(live_server.url + link)
    for field in ("password", "again"):
        page.locator(f"[name={field}]").fill("seven grey herons wade")
    page.locator("main form button").click()
    page.get_by_text("The new password is set").wait_for()
    page.close()


@pytest.mark.django_db(transaction=True)
def test_the_review_of_a_run_fits_a_phone(tab, bag):
    lot = bag("clean bottles")
    page = tab(375, "light")
    page.goto("record/shred/")
    page.check(f"[name=whole-lots][value={lot}]")
    page.fill("[name=outputs-0-gross]", "4 kg")
    page.locator("summary", has_text="Oversize").click()
    page.fill("[name=outputs-1-gross]", "900 g")
    page.get_by_role("button", name="Look it over").click()
    page.get_by_text("What will be in the book").wait_for()
    table, region = (
        page.locator(one).bounding_box() for one in (".table-region table", ".table-region")
    )
    assert page.get_by_text("goes round again").is_visible()
    assert table["width"] <= region["width"] + 0.5
