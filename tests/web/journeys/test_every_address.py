"""One sweep over every page there is: a new page is found by the links that lead to it."""

from __future__ import annotations

import gzip
import re
from collections import Counter
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
import time_machine
from django.contrib.staticfiles import finders
from django.db import connection, transaction
from django.test import Client
from django.urls import resolve

from recycling.models import User
from recycling.web import urls
from tests.waiting import PATIENCE_MS
from tests.web.reading.small_book import Book, open_workshop

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SCHEMES = [(360, "light"), (1280, "dark")]
"""Each width and each scheme once: colours come from the scheme alone, sizes from the width."""
LEAST_TARGET = 44
MOST_PAGE, MOST_FIRST_PAGE = 150_000, 64_000
FIRST_PAGES = ("today", "record", "collection-new")
SCANNER = "scanner"
SEVERAL = {
    "lot": 4,
    "run": 3,
    "collection": 2,
    "record-stage": 13,
    "run-open": 9,
    "set-up-add": 9,
    "lot-checks": 5,
    "machine": 3,
}
"""Addresses of which more than one page is looked at, for they differ."""

DEEDS = {
    "sign-out", "switch-workshop", "language", "machine-tap", "energy-file-take",
    "energy-file-drop", "finding-keep", "suspect-hold", "verdict-decide", "spool-link-change",
    "run-model-choose", "lock", "report-link-change", "export-archive", "import-take",
    "import-drop", "export-epcis-tell", "run-undo", "posting-undo", "facts-undo",
    "doubt-right", "import-answer", "import-undo", "session-end",
}  # fmt: skip
"""They are posted to; what they do is shown on pages that are looked at."""

NO_PAGES = {
    "energy-file-progress", "finding-data", "verdict-photo", "scan-worker", "labels-paper",
    "lot-label", "label-opened", "report-file", "public-report-file", "public-report-table",
    "report-verify", "export-archive-file", "export-epcis", "export-prov", "labels-pdf",
    "worker", "outbox-discarded", "outbox-pages", "outbox-who", "go-on", "labels-page",
    "labels-choose", "labels-links", "lot-labels", "labels-print", "import-template",
    "import-progress", "import-purchases", "import-opening",
}  # fmt: skip
"""They give a file or a part of a page, or lead on."""

NEED_MORE = {
    "energy-file", "machine-take-back", "changeover-plan", "changeover-used", "reconciliation",
    "finding", "tablet-revoke", "key-revoke", "recorded", "report", "public-spool",
    "public-report", "password-set", "sign-in", "choose-workshop", "home",
    "act-as", "pin-remove", "password-change", "without-network", "machine-time",
    "export-archive-made", "import", "member-erase", "sign-in-code", "member-second-step",
}  # fmt: skip
"""They need what this book does not hold, or nobody signed in; their topics' tests open them."""

TOO_SMALL = """least => [...document.querySelectorAll(
    'main button, main summary, main select, main textarea, main input:not([type=hidden]), '
    + 'main .step, main .button, main .check, header summary, header a'
)].filter(one => {
    const box = (one.closest('label') || one).getBoundingClientRect();
    const hidden = one.closest('.visually-hidden') || box.width < 2;
    return !hidden && box.width > 0 && (box.height < least - 0.5 || box.width < least - 0.5);
}).map(one => one.outerHTML.slice(0, 90))"""
VIOLATIONS = """rules => axe.run(document, {
    runOnly: rules, resultTypes: ['violations'], elementRef: false, preload: false,
}).then(said => said.violations.map(one => [one.id, one.nodes[0].html]))"""
TOO_WIDE = "document.documentElement.scrollWidth > window.innerWidth"
PAPER = {"width": 688, "height": 990}
"""A4 within this project's margins, 182 mm of 210, at the 96 px to the inch of CSS."""
ILL_ON_PAPER = """() => [...document.querySelectorAll(
    'nav, button, .button, .desk main :is(input, select, textarea), main :is(table, svg)'
)].filter(one => {
    const box = one.getBoundingClientRect();
    const whole = one.matches('table, svg') && box.right <= innerWidth + 1;
    return box.width > 0 && !whole && !one.closest('.visually-hidden');
}).map(one => one.outerHTML.slice(0, 90))"""


def named(patterns=urls.urlpatterns) -> set[str]:
    """Every name of an address."""
    names = set()
    for one in patterns:
        names |= named(one.url_patterns) if hasattr(one, "url_patterns") else {one.name}
    return names


@pytest.fixture
def book(db) -> Book:
    return Book(open_workshop(), datetime(2026, 3, 2, 8, tzinfo=UTC)).record()


@pytest.fixture
def signed_in(book) -> Client:
    client = Client()
    client.force_login(User.objects.get(memberships__pk=book.actor.member_id))
    return client


@pytest.fixture
def pages(book, signed_in) -> dict[str, bytes]:
    """Address → what it answers, one or a few for each name, found by following links."""
    home = f"/w/{book.actor.slug}/"
    found: dict[str, bytes] = {}
    spool = book.codes["extrude first filament"]
    first = (
        "",
        "find/",
        "audit/",
        f"lots/{spool}/",
        f"lots/{spool}/checks/",
        f"labels/?lots={spool}",
    )
    waiting = [home + path for path in first]
    seen, counts = set(waiting), Counter()
    while waiting:
        address = waiting.pop(0)
        name = resolve(address.partition("?")[0]).url_name
        if name in DEEDS | NO_PAGES or counts[name] >= SEVERAL.get(name, 1):
            continue
        answer = signed_in.get(address)
        html = answer.status_code == 200 and answer["Content-Type"].startswith("text/html")
        if not html or answer.get("Content-Disposition"):
            continue
        counts[name] += 1
        found[address] = answer.content
        for link in re.findall(r'href="([^"#]+)', answer.content.decode()):
            link = unescape(link)
            link = address.partition("?")[0] + link if link.startswith("?") else link
            if link.startswith(home) and link not in seen:
                seen.add(link)
                waiting.append(link)
    return found


@pytest.mark.slow
def test_every_page_is_reached_by_links(pages):
    reached = {resolve(address.partition("?")[0]).url_name for address in pages}
    missed = named() - reached - DEEDS - NO_PAGES - NEED_MORE
    assert not missed, f"no link leads to {sorted(missed)}: link them, or say why not"
    assert len(pages) > 60


@pytest.mark.slow
def test_every_page_is_the_same_where_nothing_can_be_written(pages, signed_in):
    """As on a standby, for a session whose last use would be noted by now."""
    later = datetime.now(UTC) + timedelta(minutes=50)
    with nothing_written(), time_machine.travel(later):
        other = [
            address
            for address, before in pages.items()
            if shown(signed_in.get(address).content) != shown(before)
        ]
    assert not other


@contextmanager
def nothing_written():
    """Have the database refuse to be written, and take it again afterwards."""
    sqlite = connection.vendor == "sqlite"
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = 1" if sqlite else "SET LOCAL transaction_read_only = 1")
        try:
            yield
        finally:
            if sqlite:
                cursor.execute("PRAGMA query_only = 0")
            transaction.set_rollback(True)


def shown(content: bytes) -> list[str]:
    """The words of a page, without its numbers: what was a minute ago is longer ago now."""
    html = re.sub(r"<(script|style)\b.*?</\1>|<[^>]*>", " ", content.decode(), flags=re.S)
    return re.sub(r"\d+", "", html).split()


def weight_of(content: bytes) -> int:
    """Bytes of a page with all that it loads, compressed, without the scanner."""
    total = len(gzip.compress(content))
    html = content.decode()
    files = set(re.findall(r'(?:src|href|data-live)="/static/([^"#?]+)', html))
    if not re.search(r"hx-(?:get|post)=", html):
        files = {name for name in files if "htmx" not in name}
    files |= {f"look/fonts/{name}" for name in ("atkinson-hyperlegible-next.woff2",)}
    files |= {"look/fonts/atkinson-hyperlegible-mono-codes.woff2"}
    for name in files:
        if SCANNER in name or name.endswith(".pdf"):
            continue
        with open(finders.find(name), "rb") as stored:
            read = stored.read()
        total += len(read) if name.endswith("woff2") else len(gzip.compress(read))
    return total


@pytest.mark.slow
def test_no_page_weighs_too_much(pages):
    weights = {address: weight_of(content) for address, content in pages.items()}
    assert {one: n for one, n in weights.items() if n > MOST_PAGE} == {}
    first = {
        address: n
        for address, n in weights.items()
        if resolve(address.partition("?")[0]).url_name in FIRST_PAGES
    }
    assert len(first) == len(FIRST_PAGES)
    assert {one: n for one, n in first.items() if n > MOST_FIRST_PAGE} == {}


@pytest.fixture
def visit(chromium, live_server, signed_in):
    """Return a function that opens every page at a width, and gives what is wrong with each."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    cookie = signed_in.cookies["sessionid"].value

    def every(addresses, width: int, scheme: str) -> dict[str, list[str]]:
        context = chromium.new_context(
            viewport={"width": width, "height": 800},
            color_scheme=scheme,
            base_url=live_server.url,
        )
        context.set_default_timeout(PATIENCE_MS)
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        page = context.new_page()
        said = heard(page, live_server.url)
        wrong = {}
        for address in addresses:
            said.clear()
            page.goto(address)
            page.evaluate(axe.axe_script)
            found = looked_over(page, width)
            if found := [*said, *found]:
                wrong[address] = found
        context.close()
        return wrong

    return every


def heard(page, home: str) -> list[str]:
    """Collect what the console complains of, and every request that leaves the host."""
    said: list[str] = []

    def asked(sent) -> None:
        if not sent.url.startswith((home, "data:", "blob:")):
            said.append(sent.url)

    page.on("console", lambda one: said.append(one.text) if one.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", asked)
    return said


def looked_over(page, width: int) -> list[str]:
    """Name what is wrong with the page that is open, also at 400 % zoom of a wide screen."""
    found = [f"too small: {one}" for one in page.evaluate(TOO_SMALL, LEAST_TARGET)]
    found += ["too wide"] if page.evaluate(TOO_WIDE) else []
    found += [f"{rule}: {html[:160]}" for rule, html in page.evaluate(VIOLATIONS, RULES)]
    if width == 1280:
        page.emulate_media(media="print")
        page.set_viewport_size(PAPER)
        found += [f"ill on paper: {one}" for one in page.evaluate(ILL_ON_PAPER)]
        page.emulate_media(media="screen")
        page.set_viewport_size({"width": 1280, "height": 800})
    if width == 360:
        page.set_viewport_size({"width": 320, "height": 256})
        found += ["too wide at 400 %"] if page.evaluate(TOO_WIDE) else []
        page.set_viewport_size({"width": 360, "height": 800})
    return found


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("scheme", SCHEMES, ids=lambda one: f"{one[0]}-{one[1]}")
def test_every_page_is_sound_in_a_browser(pages, visit, scheme):
    """Targets, width at 360 px and at 400 % zoom, paper, WCAG 2.2 A and AA, no complaint."""
    assert visit(pages, *scheme) == {}
