"""Journeys that the interface promises: few taps, a day on a phone, two people, no script."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page, lots_page
from recycling.queries.lots.origins import lot_origins, origin_page, origins_page
from recycling.queries.runs.runs import run_page, runs_page
from recycling.records.lots.filters import LotFilter
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry, SettingEntry
from recycling.services.runs.run_open import run_open
from recycling.web.templatetags.look import mass_text, uncertainty_text
from tests.factories import KG, START, OriginFactory, SourceFactory

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

MOST_TAPS = 8


@pytest.fixture
def known_sources(lead):
    """More sources than are shown as radios, one of which gave lately."""
    for name in ("Corner shop", "Harbour café", "Tower block", "Rowing club", "Fair", "Bakery"):
        SourceFactory(actor=lead.actor, name=name)
    OriginFactory(actor=lead.actor, kind="collection", source="Bakery", happened_at=START)


@pytest.mark.ordinary
def test_three_bags_of_a_known_source_take_at_most_eight_taps(bench, lead, known_sources):
    one = bench(lead)
    one.page.goto("./")
    one.tap("text=Record a collection")
    one.tap(".taps button:has-text('Bakery')")
    one.type("5.5 kg")
    one.tap(".taps button:has-text('Blue crate')")
    assert one.page.inner_text(".net output") == "4.250\xa0kg"
    assert one.page.inner_text(".net-u").startswith("±\xa0")
    for place, mass in ((1, "3200"), (2, "2 kg")):
        one.tap("text=Add a bag")
        one.page.wait_for_selector(f"#id_bags-{place}-gross:focus")
        one.type(mass)
    from playwright.sync_api import expect

    said = one.page.locator("[data-sentence]")
    expect(said).to_have_text("3 bags, 6.950 kg net in all, from Bakery.")
    one.tap("main button.button-main")
    one.says("6.950 kg recorded: 6.950 kg of bottles, as 3 lots.")
    assert one.page.locator("text=Print their labels").count() == 1
    one.taps += 1
    assert one.taps <= MOST_TAPS, one.taps
    assert not one.complaints
    latest = origins_page(lead.actor, kind="collection").rows[0]
    record = origin_page(lead.actor, latest.code)
    assert record.source == "Bakery"
    assert sorted(lot.mass_mg for lot in record.lots) == [750_000, 1_950_000, 4_250_000]


def test_a_mass_is_written_by_script_as_the_server_writes_it(bench, lead):
    """At each place where the digits or the unit change, and just beside it."""
    one = bench(lead)
    one.page.goto("collections/new/")
    edges = (1, 10, 1_000, 10_000, 100_000, 999_500, 1_000_000, 12_345_678)
    masses = [0, *(edge + beside for edge in edges for beside in (-1, 0, 1, 7))]
    written = one.page.evaluate("all => all.map(massText)", masses)
    assert written == [mass_text(mass_mg) for mass_mg in masses]


def test_an_uncertainty_is_written_by_script_as_the_server_writes_it(bench, lead):
    """At each place where the digits or the unit change, just beside it, and halfway."""
    one = bench(lead)
    one.page.goto("collections/new/")
    edges = (1, 10, 100, 1_000, 10_000, 99_500, 100_000, 999_500, 1_000_000, 12_345_678)
    sures = [0, *(edge + beside for edge in edges for beside in (-1, 0, 1, 7))]
    sures += [115, 125, 1_150, 1_250, 12_500, 13_500, 1_250_000, 12_500_000]
    written = one.page.evaluate("all => all.map(sureText)", sures)
    assert written == [f"±\u00a0{uncertainty_text(u_mass_mg)}" for u_mass_mg in sures]
    assert one.page.evaluate("sureText(1249.6)") == f"±\u00a0{uncertainty_text(1_250)}"


def test_an_ambiguous_mass_is_refused_and_nothing_is_lost(bench, lead, known_sources):
    one = bench(lead)
    one.page.goto("collections/new/")
    one.tap(".taps button:has-text('Bakery')")
    one.type("5.5")
    assert one.page.inner_text(".net output") == "not clear yet"
    assert one.page.inner_text(".net-u") == ""
    one.tap("main button.button-main")
    assert "Nothing is recorded yet" in one.page.inner_text("#error-summary")
    assert one.page.input_value("#id_bags-0-gross") == "5.5"
    assert one.page.input_value("#id_source") == "Bakery"
    assert len(origins_page(lead.actor, kind="collection").rows) == 1


def test_a_day_from_bags_to_a_spool_on_a_phone(bench, lead):
    """Each step is offered by the one before; at the end the spool knows who gave."""
    one = bench(lead)
    one.page.goto("collections/new/")
    one.page.check("label:has-text('North school')")
    one.fill(bags__0__gross="6 kg")
    one.tap("main button.button-main")
    one.tap("text=Sort it")
    one.fill(outputs__0__gross="5.4 kg")
    one.tap("summary:has-text('Caps')")
    one.page.select_option("#id_outputs-1-polymer", "HDPE")
    one.fill(outputs__1__gross="500 g")
    one.tap("main button.button-main")
    one.says("5.400 kg of clean bottles and 500 g of caps from 6.000 kg of")
    one.says("100 g unaccounted, as is usual here (±")
    one.tap("text=Record it")
    one.tap("text=Shred it")
    one.fill(outputs__0__gross="5.397 kg")
    one.tap("main button.button-main")
    one.says("3.00 g unaccounted, as is usual here (±")
    one.tap("text=Record it")
    one.tap(".steps a:has-text('Dry')")
    one.fill(outputs__0__gross="5.377 kg", losses__water__mass="20 g")
    one.tap("main button.button-main")
    one.says("nothing unaccounted")
    one.tap("text=Record it")
    one.says("is sealed")
    one.tap("text=Extrude it")
    one.fill(outputs__0__gross="5.3 kg", heel__mass="60 g")
    one.page.check("#id_outputs-0-spool")
    one.tap("main button.button-main")
    one.tap("text=Record it")
    (spool,) = lots_page(lead.actor, LotFilter(form="filament")).rows
    assert spool.code.startswith("S") and spool.mass_mg == 5_300_000
    made_of = lot_origins(lead.actor, spool.code)
    assert {part.source for part in made_of.origins} == {"North school"}
    assert sum(part.mass_mg for part in made_of.origins) + made_of.traces_mg == 5_300_000
    assert audit(lead.actor.workshop_id) == []
    assert not one.complaints


@pytest.fixture
def open_run(lead, bag):
    """An extrusion that goes on, with a setting that was just made."""
    lot = bag("dried flake", 3 * KG)
    draws = (DrawEntry(lot, mass_mg=2 * KG),)
    settings = (SettingEntry("zone_1_c", "250"),)
    now = timezone.now() - timedelta(minutes=5)
    entry = RunEntry("extrude", now, machine="The extruder", inputs=draws, settings=settings)
    return run_open(lead.actor, entry).code


def test_two_people_work_in_one_run(bench, lead, operator, open_run):
    """Both pages were opened before either wrote; nothing of either is lost."""
    ada, bo = bench(lead), bench(operator)
    for one in (ada, bo):
        one.page.goto(f"runs/{open_run}/")
        one.says("2.000 kg in process")
    bo.tap("button:has-text('bubbles')")
    bo.says("Going on")
    ada.page.fill("#quick-zone_1_c", "255")
    ada.page.fill("#quick-seen", "smoother")
    ada.tap("text=Note what was changed")
    ada.says("Zone 1: 255 °C")
    ada.says("What was seen: bubbles")
    ada.tap("text=Spool change")
    bo.tap("text=Spool change")
    for one, mass in ((ada, "700 g"), (bo, "800 g")):
        one.fill(outputs__0__gross=mass)
        assert one.page.is_checked("#id_outputs-0-spool")
    ada.tap("main button.button-main")
    bo.tap("main button.button-main")
    bo.says("500 g is in the run now.")
    record = run_page(lead.actor, open_run)
    assert {one.value for one in record.settings} == {"250", "255"}
    assert [(one.value, one.by) for one in record.checks] == [("bubbles", "Bo")]
    assert sorted(one.mass_mg for one in record.outputs) == [700_000, 800_000]
    ada.page.goto(f"runs/{open_run}/close/")
    ada.says("still in the run 0.500")
    ada.says("Before the barrel is shut down")
    assert not ada.complaints and not bo.complaints


def test_a_run_closed_by_one_says_so_to_the_other_and_keeps_what_was_typed(
    bench, lead, operator, open_run
):
    ada, bo = bench(lead), bench(operator)
    bo.page.goto(f"runs/{open_run}/output/")
    bo.fill(outputs__0__gross="800 g")
    ada.page.goto(f"runs/{open_run}/close/")
    ada.tap("main button.button-main")
    ada.says("Nothing came out of this run")
    ada.tap("text=Record it")
    bo.tap("main button.button-main")
    assert "closed" in bo.page.inner_text("#error-summary")
    assert bo.page.input_value("#id_outputs-0-gross") == "800 g"
    assert len(run_page(lead.actor, open_run).outputs) == 0


def test_waits_survive_a_reload(bench, lead, open_run):
    one = bench(lead)
    one.page.goto(f"runs/{open_run}/")
    before = one.page.inner_text(".timer:has-text('Wait before') time")
    assert ":" in before
    one.page.reload()
    after = one.page.inner_text(".timer:has-text('Wait before') time")
    assert 0 < seconds(after) <= seconds(before)
    one.page.goto("./")
    one.says("Wait after Zone 1")


def seconds(clock: str) -> int:
    """Read m:ss."""
    minutes, rest = clock.split(":")
    return 60 * int(minutes) + int(rest)


def test_a_sorting_session_without_script(bench, lead, bag):
    """Tare by a known container, another output, a review, and it stands in the book."""
    lots = [bag(), bag()]
    one = bench(lead, script=False)
    one.page.goto("record/sort/")
    for lot in lots:
        one.page.check(f"label:has-text('{lot}')")
    one.fill(outputs__0__gross="10 kg")
    one.page.select_option("#id_outputs-0-container", index=1)
    one.page.select_option("#id_scale", "Bench scale")
    one.tap("text=Look it over")
    one.says("8.750 kg of clean bottles from 10.000 kg of")
    # OIML R 76-1, table 6 in service, e = 1 g: limits 3 g at 10 kg and 2 g at 1.25 kg; with the
    # step of 1 g (GUM 4.3.7) u = √(1.756² + 1.190²) = 2.12 g; 95 % of the truths within 4.1 g.
    one.says("± 4.1 g")
    one.says("1.250 kg unaccounted, not as usual here")
    one.tap("text=Change something")
    assert one.page.input_value("#id_outputs-0-gross") == "10 kg"
    one.tap("text=Look it over")
    one.tap("text=Record it")
    one.says("Shred it")
    (made,) = lots_page(lead.actor, LotFilter(form="clean bottles")).rows
    assert made.mass_mg == 8_750_000
    assert all(lot_page(lead.actor, lot).mass_mg == 0 for lot in lots)


def test_an_open_run_without_script(bench, lead, bag):
    lot = bag("flake", 4 * KG)
    one = bench(lead, script=False)
    one.page.goto(f"record/dry/open/?lot={lot}")
    one.tap("text=Open the run")
    one.tap("text=Go to the run")
    one.says("4.000 kg in process")
    one.page.fill("#quick-set_c", "160")
    one.tap("text=Note what was changed")
    one.says("Set temperature: 160 °C")
    one.tap("text=Close the run")
    one.fill(outputs__0__gross="3.96 kg", losses__water__mass="40 g")
    one.tap("text=Look it over")
    one.says("3.960 kg of dried flake from 4.000 kg of")
    one.tap("text=Record it")
    code = runs_page(lead.actor, stage="dry").rows[0].code
    record = run_page(lead.actor, code)
    assert record.state == "closed" and record.unaccounted_mg == 0
    one.page.goto("./")
    one.says("Dried, waiting for the feed")


def test_a_donation_without_script_is_said_before_it_is_recorded(bench, lead):
    one = bench(lead, script=False)
    one.page.goto("collections/new/")
    one.page.check("label:has-text('North school')")
    one.fill(bags__0__gross="5 kg")
    one.page.select_option("#id_bags-0-container", index=1)
    one.tap("main button.button-main")
    one.says("One lot: 3.750 kg of bottles from North school.")
    assert not origins_page(lead.actor, kind="collection").rows
    one.tap("main button.button-main")
    assert len(origins_page(lead.actor, kind="collection").rows) == 1
