"""A drawing that somebody explores: drawn by the library, hatched as on paper."""

from __future__ import annotations

import pytest

from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START, G, OriginFactory

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def sorted_bag(lead):
    lots = OriginFactory(actor=lead.actor, happened_at=START).lots
    sort = RunEntry(
        "sort",
        START,
        START,
        inputs=(DrawEntry(lots[0].code, all=True),),
        outputs=(OutputEntry("clean bottles", 4 * KG), OutputEntry("caps", 400 * G, "HDPE")),
    )
    run_record(lead.actor, sort)
    return lead


def test_the_flows_of_a_period_are_explored(bench, sorted_bag):
    from playwright.sync_api import expect

    one = bench(sorted_bag, width=1280)
    day = START.date().isoformat()
    one.page.goto(f"balance/?from={day}&to={day}")
    assert "plotly" not in one.page.content()
    expect(one.page.locator("#flows svg.flows")).to_be_visible()
    one.tap("#flows a:has-text('Explore this drawing')")
    expect(one.page.locator("#flows .ribbon-hatching").first).to_be_attached()
    expect(one.page.locator("#flows svg.flows")).to_be_hidden()
    said = one.page.locator("#flows .node-label").all_text_contents()
    assert any("Sort" in label and "kg" in label for label in said), said
    one.page.emulate_media(media="print")
    expect(one.page.locator("#flows svg.flows")).to_be_visible()
    one.page.emulate_media(media="screen")
    one.tap("#flows a:has-text('Back to the drawing')")
    expect(one.page.locator("#flows svg.flows")).to_be_visible()
    assert f"from={day}" in one.page.url and not one.complaints
