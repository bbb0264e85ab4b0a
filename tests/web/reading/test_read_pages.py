"""Every reading page opens, says what it must, and asks the database a bounded number of times."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.run_record import run_record
from tests.web.reading.reading_pages import text_of
from tests.web.reading.small_book import Book, open_workshop

MOST_QUERIES = 15
"""Twelve, and three on the page of a lot: history of its facts, what was unusual, its limits."""
LISTS = ("", "stock/", "spools/", "collections/", "runs/", "balance/", "holds/", "legend/", "find/")


def pages_of(book: Book) -> list[str]:
    codes = book.codes
    spool, bag = codes["extrude first filament"], codes["school bag 1"]
    return [
        *LISTS,
        f"lots/{spool}/",
        f"lots/{bag}/",
        f"lots/{spool}/lineage/",
        f"lots/{bag}/lineage/",
        f"collections/{codes['school']}/",
        f"runs/{codes['extrude']}/",
        f"runs/{codes['shred']}/",
        f"runs/{codes['open']}/",
    ]


def grown(book: Book, times: int) -> None:
    """Record many more collections and sortings, so that every list is longer."""
    for turn in range(times):
        at = book.at(40 + turn)
        bags = tuple(BagEntry(400_000 + turn) for _ in range(3))
        made = origin_record(book.actor, OriginEntry("collection", at, bags, source="North school"))
        run_record(
            book.actor,
            RunEntry(
                "sort",
                at,
                at,
                inputs=tuple(DrawEntry(lot.code, all=True) for lot in made.lots),
                outputs=(OutputEntry("clean bottles", 1_150_000),),
            ),
        )


def test_every_page_opens_on_a_book_with_everything_in_it(book, page):
    for address in [*pages_of(book), "audit/"]:
        assert page(address)["Content-Type"].startswith("text/html")


def test_every_page_opens_on_an_empty_book(page):
    for address in [*LISTS, "audit/"]:
        page(address)


@pytest.mark.slow
def test_no_page_asks_more_often_when_there_is_more(book, page):
    page("")
    counts = {}
    for round_, _ in enumerate(range(2)):
        for address in pages_of(book):
            with CaptureQueriesContext(connection) as queries:
                page(address)
            counts.setdefault(address, []).append(len(queries))
        if not round_:
            grown(book, 60)
    assert {address: n for address, n in counts.items() if n[0] != n[1]} == {}


@pytest.mark.parametrize("place", range(17))
def test_a_page_asks_the_database_at_most_twelve_times(book, page, place):
    grown(book, 20)
    page("")
    address = pages_of(book)[place]
    with CaptureQueriesContext(connection) as queries:
        page(address)
    asked = [query["sql"][:90] for query in queries.captured_queries]
    assert len(asked) <= MOST_QUERIES, asked


def test_codes_are_taken_in_small_letters(book, page):
    code = book.codes["shred flake"]
    assert text_of(page(f"lots/{code.lower()}/")) == text_of(page(f"lots/{code}/"))


def test_what_does_not_exist_is_not_found(book, page):
    page("lots/L999-5/", status=404)
    page("runs/R999-Q/", status=404)
    page("collections/C999-A/", status=404)
    page("lots/L999-5/lineage/", status=404)


def test_another_workshops_codes_are_not_found_and_not_told(book, client, page):
    other = Book(open_workshop("other", "omar"), datetime(2026, 4, 1, 8, tzinfo=UTC))
    other.set_up()
    for _ in range(20):
        other.collect("far", "North school", 0, 1_000_000)
    answer = page(f"lots/{other.codes['far bag 1']}/", status=404)
    assert other.codes["far bag 1"] not in text_of(answer)
    assert client.get("/w/other/").status_code == 404


def test_a_stranger_is_sent_to_the_door(book, client):
    answer = client.get("/w/quay/stock/")
    assert answer.status_code == 302
    assert "next=/w/quay/stock/" in answer["Location"]


def test_pages_that_read_take_no_posts(book, page, client):
    page("stock/")
    assert client.post("/w/quay/stock/").status_code == 405


def test_a_viewer_reads_everything_and_is_offered_nothing_to_record(book, viewer_page):
    for address in pages_of(book):
        answer = viewer_page(address).content.decode()
        for deed in ("/void/", "/close/", "/hold/", "/count/", "/correct/", "/release/", "/new/"):
            assert deed not in answer, (address, deed)


def test_a_cursor_that_is_none_leads_to_the_beginning(book, page):
    answer = page("stock/", status=302, after="zzz", form="flake")
    assert answer["Location"] == "/w/quay/stock/?form=flake"


def test_no_page_brings_script_or_style_of_its_own(book, page):
    for address in pages_of(book):
        answer = page(address).content.decode()
        assert not re.search(r"<style|style=|\son[a-z]+=", answer), address
        inline = re.findall(r"<script(?![^>]*\bsrc=)([^>]*)>", answer)
        assert all('type="application/json"' in one for one in inline), address
        assert "default-src 'self'" in page(address)["Content-Security-Policy"]


def links_of(answer) -> set[str]:
    """Give the addresses of this service that a page itself links to, below its header."""
    found = re.findall(r'href="([^"#]+)', answer.content.decode().partition("<main")[2])
    return {unescape(address) for address in found if address.startswith(("/w/", "?"))}


@pytest.mark.slow
@pytest.mark.parametrize("fetch", ["page", "viewer_page"])
def test_every_link_of_every_page_leads_somewhere(book, client, fetch, request):
    get = request.getfixturevalue(fetch)
    met: dict[str, str] = {}
    for address in [*pages_of(book), "audit/", "holds/?state=released"]:
        for link in links_of(get(address)):
            met.setdefault(f"/w/quay/{address}{link}" if link[0] == "?" else link, address)
    assert len(met) > 60
    lost = {link: seen for link, seen in met.items() if client.get(link).status_code >= 400}
    assert lost == {}
