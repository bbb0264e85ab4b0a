"""The shared tablet, the outbox and the account in a real browser: large, fitting, for all."""

from __future__ import annotations

import pytest

from recycling.models import TabletRule
from recycling.queries.lots.origins import origins_page
from recycling.web.people.tablet_session import COOKIE
from tests.waiting import PATIENCE_MS
from tests.web.browsers import started
from tests.web.offline.conftest import Wire, kept, says, sign_in, until
from tests.web.recording.test_in_browser import LEAST_TARGET, RULES, TOO_SMALL, TOO_WIDE
from tests.web.tablets.conftest import PINS

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
TRIES = "async () => (await outbox.entries())[0].tries"
BY_PASSWORD = ["account/", "account/pin/remove/", "set-up/tablets/", "set-up/tablets/lock-time/"]
SIZES = [(360, "light"), (360, "dark"), (768, "light"), (1280, "light"), (1280, "dark")]


@pytest.fixture(scope="module")
def chromium():
    with started("--host-resolver-rules=MAP bench.example 127.0.0.1") as browser:
        yield browser


@pytest.fixture
def wire(live_server):
    cable = Wire(int(live_server.url.rpartition(":")[2]))
    yield cable
    cable.close()


@pytest.fixture
def device(chromium, wire, issued):
    """Return a function that opens a device; with the tablet's cookie unless it is one's own."""
    opened = []

    def at(width=360, scheme="light", tablet=True, script=True, csp=True, host="localhost"):
        url = f"http://{host}:{wire.port}"
        context = chromium.new_context(
            viewport={"width": width, "height": 800},
            color_scheme=scheme,
            java_script_enabled=script,
            bypass_csp=not csp,
            base_url=f"{url}/w/quay/",
        )
        context.set_default_timeout(PATIENCE_MS)
        if tablet:
            context.add_cookies([{"name": COOKIE, "value": issued.token, "url": url}])
        opened.append(context)
        return context.new_page()

    yield at
    for context in opened:
        context.close()


def act(page, name: str) -> None:
    page.goto("acting/")
    page.check(f"label:has-text('{name}')")
    page.fill("#id_pin", PINS[name])
    page.click("main button.button-main")
    says(page, "[data-acting-name]", name)


def pages(page, ada, wire, tablet: bool):
    """Go through the pages that are new, and yield the name of each."""
    if tablet:
        page.goto("acting/")
        yield "acting"
        page.click("main button.button-main")
        yield "acting, refused"
        act(page, "Bo")
        yield "today, with a lock"
    else:
        sign_in(page.context, f"http://localhost:{wire.port}", ada)
        for name in BY_PASSWORD:
            page.goto(name)
            yield name
        page.goto("/password/")
        yield "password"
    page.goto("outbox/")
    yield "outbox"
    page.goto("/without-network/")
    yield "without network"


@pytest.mark.parametrize("width, scheme", SIZES)
@pytest.mark.parametrize("tablet", [True, False])
def test_every_page_fits_and_can_be_pressed_with_gloves(
    device, ada, bo, wire, width, scheme, tablet
):
    page, said = device(width, scheme, tablet), []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
    for name in pages(page, ada, wire, tablet):
        assert not page.evaluate(TOO_WIDE), name
        assert not page.evaluate(TOO_SMALL, LEAST_TARGET), name
    assert not [line for line in said if "422" not in line]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("tablet", [True, False])
def test_no_page_shuts_anyone_out(device, ada, bo, wire, scheme, tablet):
    """Success criteria of WCAG 2.2 A and AA, as axe-core can test them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    page = device(360, scheme, tablet, csp=False)
    for name in pages(page, ada, wire, tablet):
        found = axe.Axe().run(page, options={"runOnly": RULES}).response["violations"]
        assert not [(one["id"], one["nodes"][0]["html"]) for one in found], name


def test_the_lock_takes_along_what_is_typed(device, ada, bo):
    page = device()
    act(page, "Bo")
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.25 kg")
    page.click("text=Lock")
    page.wait_for_selector("h1:has-text('Who is acting')")
    act(page, "Bo")
    lines = page.locator("main li").all_inner_texts()
    assert lines[0] == "Record a collection" and "Bag 1, Gross, g: 5.25 kg" in lines, lines
    assert not [line for line in lines if "bags-" in line or "idempotency" in line]
    page.click("text=Go on with it")
    assert page.input_value("#id_bags-0-gross") == "5.25 kg"
    page.click("main button.button-main")
    page.wait_for_selector(".saved")
    assert len(origins_page(ada, kind="collection").rows) == 1


def test_what_was_typed_outlives_every_lock(device, ada, bo):
    """Locked on the page that offers it, and again where it was taken up but not sent."""
    page = device()
    act(page, "Bo")
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.25 kg")
    for _turn in range(2):
        page.click("text=Lock")
        page.wait_for_selector("h1:has-text('Who is acting')")
        act(page, "Bo")
        assert "5.25 kg" in page.inner_text("main")
    page.click("text=Go on with it")
    page.wait_for_selector("#id_bags-0-gross")
    page.click("text=Lock")
    page.wait_for_selector("h1:has-text('Who is acting')")
    act(page, "Bo")
    assert "5.25 kg" in page.inner_text("main"), "nothing was changed since, and it is kept"


def test_a_lock_without_network_is_made_up_for_before_anything_is_sent(device, ada, bo):
    """Seen at once; what waits and what was typed stay with whoever made and typed it."""
    page = device()
    act(page, "Bo")
    kept(page)
    page.context.set_offline(True)
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "2 kg")
    page.click("main button.button-main")
    page.wait_for_url("**/outbox/")
    page.goto("collections/new/")
    says(page, "[data-acting-name]", "Bo")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.25 kg")
    page.click("text=Lock")
    page.wait_for_selector("h1:has-text('Locked')")
    assert not page.locator("[data-acting-name]").count()
    page.click("text=Record something without network")
    page.wait_for_selector("h1:has-text('Record')")
    says(page, "[data-acting-name]", "")  # a kept page names nobody any more
    page.goto("stock/")
    asked = []
    page.context.on("request", lambda one: asked.append(one.url) if one.method == "POST" else None)
    page.context.set_offline(False)
    page.goto("record/")
    page.wait_for_url("**/acting/**")
    assert {url.rpartition("quay")[2] for url in asked} == {"/lock/"}, "by page or by worker"
    assert not origins_page(ada, kind="collection").rows
    act(page, "Ada")
    assert "5.25" not in page.inner_text("main")
    act(page, "Bo")
    assert "5.25 kg" in page.inner_text("main")
    page.goto("outbox/")
    page.wait_for_selector("[data-outbox-list] >> text=Recorded")
    assert len(origins_page(ada, kind="collection").rows) == 1


def test_a_page_that_asks_whether_it_may_send_does_not_keep_the_tablet_open(device, ada, bo):
    """Somebody else's entry waits: the page asks every ten seconds, and the tablet locks."""
    TabletRule.objects.create(workshop_id=ada.workshop_id, lock_minutes=1)
    page, asked = device(), []
    page.clock.install()
    act(page, "Bo")
    mine = page.get_attribute("body", "data-member")
    entry = {"key": "k", "slug": "quay", "path": "/w/quay/none/", "title": "", "words": []}
    more = {"fields": [], "state": "waiting", "tries": 0, "problems": [], "made_at": "2026-01-01"}
    page.evaluate("one => outbox.add(one)", {**entry, **more, "owner": mine})
    page.route("**/w/quay/none/", lambda route: route.fulfill(status=503))
    page.on("request", lambda one: asked.append(one.url) if "/who/" in one.url else None)
    for turn in range(5):
        page.clock.run_for(10_500)
        until(page, lambda tries=turn + 1: page.evaluate(TRIES) >= tries)
        page.evaluate("navigator.locks.request('outbox', () => {})")
    assert len(asked) >= 5, "it asked meanwhile"
    page.clock.run_for(10_000)
    page.wait_for_selector("h1:has-text('Who is acting')")


def test_it_locks_by_itself(device, ada, bo):
    TabletRule.objects.create(workshop_id=ada.workshop_id, lock_minutes=1)
    page = device()
    page.clock.install()
    act(page, "Bo")
    page.clock.run_for(61_000)
    page.wait_for_selector("h1:has-text('Who is acting')")


def test_without_script_the_tablet_asks_and_locks(device, bo):
    page = device(script=False)
    act(page, "Bo")
    says(page, "[data-acting-name]", "Bo")
    page.click("text=Lock")
    assert "Who is acting" in page.inner_text("h1")


def test_without_network_a_locked_tablet_keeps_entries_for_whoever_made_them(device, wire, ada, bo):
    page = device()
    act(page, "Bo")
    kept(page)
    page.click("text=Lock")
    page.wait_for_selector("h1:has-text('Who is acting')")
    wire.cut()
    page.goto("collections/new/")
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.5 kg")
    page.click("main button.button-main")
    page.wait_for_url("**/outbox/")
    wire.state = "up"
    act(page, "Ada")
    page.goto("outbox/")
    page.wait_for_selector("text=Made while nobody was acting")
    assert not origins_page(ada, kind="collection").rows, "not Ada's because she came first"
    act(page, "Bo")
    page.goto("outbox/")
    page.click("text=I made it")
    page.wait_for_selector("[data-outbox-list] >> text=Recorded")
    assert len(origins_page(ada, kind="collection").rows) == 1


def test_over_plain_http_everything_else_works_and_the_page_says_what_is_missing(
    device, wire, ada, settings
):
    """A name that browsers do not count as this computer, so that there is no service worker."""
    settings.ALLOWED_HOSTS = ["bench.example"]
    page, said = device(tablet=False, host="bench.example"), []
    page.on("pageerror", lambda error: said.append(str(error)))
    sign_in(page.context, f"http://bench.example:{wire.port}", ada)
    page.goto("collections/new/")
    assert not page.evaluate("isSecureContext") and not page.evaluate(
        "'serviceWorker' in navigator"
    )
    page.check("label:has-text('North school')")
    page.fill("#id_bags-0-gross", "5.5 kg")
    page.click("main button.button-main")
    page.wait_for_selector(".saved")
    page.click("text=Without network")
    words = page.inner_text("main")
    assert "plain http" in words and "serve_over_tls" in words
    assert not said
