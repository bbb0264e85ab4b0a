"""Labels, scanning and a spool's public page in a real browser: for everybody, and on one card."""

from __future__ import annotations

import io

import pikepdf
import pytest
from django.test import Client

from recycling.models import User
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.labels import link_give
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START, G, MachineFactory, OriginFactory, WorkshopFactory
from tests.web.browsers import started

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
A6_MM = (105, 148)
"""ISO 216."""
TOO_WIDE = "document.documentElement.scrollWidth > window.innerWidth"
TOO_SMALL = """[...document.querySelectorAll('button, select, input:not([type=hidden]), .button')]
    .filter(one => {
        const box = (one.closest('label') || one).getBoundingClientRect();
        return box.width > 0 && (box.height < 44 || box.width < 44);
    }).map(one => one.outerHTML.slice(0, 90))"""


@pytest.fixture
def lead():
    actor = WorkshopFactory(slug="quay", name="Quay workshop")
    MachineFactory(actor=actor, name="extruder", kind="extruder")
    return actor


@pytest.fixture
def spool(lead):
    bags = (BagEntry(5 * KG, form="dried flake", polymer="PET"),)
    flake = OriginFactory(actor=lead, happened_at=START, bags=bags).lots[0].code
    entry = RunEntry(
        "extrude",
        START.replace(hour=9),
        START.replace(hour=12),
        machine="extruder",
        inputs=(DrawEntry(flake, mass_mg=KG),),
        outputs=(OutputEntry("filament", 990 * G, spool=SpoolEntry(1.75)),),
    )
    return run_record(lead, entry).lots[0].code


@pytest.fixture
def tab(live_server, lead):
    with started() as browser:

        def at(width: int, scheme: str):
            context = browser.new_context(
                base_url=live_server.url,
                viewport={"width": width, "height": 800},
                color_scheme=scheme,
                bypass_csp=True,
            )
            signed_in = Client()
            signed_in.force_login(
                User.objects.get(memberships__pk=lead.member_id),
                "recycling.web.people.People",
            )
            cookie = signed_in.cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
            return context.new_page()

        yield at


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
def test_no_page_shuts_anyone_out(tab, lead, spool, width, scheme):
    """Success criteria of WCAG 2.2 A and AA, as axe-core can test them."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    page = tab(width, scheme)
    token = link_give(lead, spool).token
    places = ["find/", "labels/", f"labels/?lots={spool}", f"labels/?lots={spool}&start=99"]
    places += [f"labels/print/?lots={spool}", "legend/", f"lots/{spool}/public/"]
    for place in [*(f"/w/quay/{one}" for one in places), f"/v/{token}/"]:
        page.goto(place)
        assert not page.evaluate(TOO_WIDE), place
        assert not page.evaluate(TOO_SMALL), place
        found = axe.Axe().run(page, options={"runOnly": RULES}).response["violations"]
        assert not [(one["id"], one["nodes"][0]["html"]) for one in found], place


def test_the_spools_page_prints_as_one_card(tab, lead, spool):
    page = tab(360, "light")
    page.context.clear_cookies()
    page.goto(f"/v/{link_give(lead, spool).token}/")
    printed = page.pdf(prefer_css_page_size=True)
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        assert len(pdf.pages) == 1
        _, _, width, height = (float(one) / 72 * 25.4 for one in pdf.pages[0].mediabox)
    assert (width, height) == pytest.approx(A6_MM, abs=0.5)
