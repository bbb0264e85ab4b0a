"""A report about one giver tells of the runs that its material went through, and of no others."""

from __future__ import annotations

from dataclasses import replace

import pytest

from recycling.models import Origin
from recycling.queries.energy.machines import machine_page
from recycling.queries.energy.stages import stages_energy
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, WeighingEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.reports.question import PERIOD, ReportQuestion
from recycling.records.runs.entries import RunEntry
from recycling.reports.movements import movements
from recycling.reports.runs import fed_of, run_parts
from recycling.reports.scope import scope_of
from recycling.services.runs.run_record import run_record
from tests.energy.conftest import Shop, at
from tests.factories import (
    KG,
    MachineFactory,
    OriginFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.queries.reported import lines, report, sections, table, texts
from tests.reports.test_sums import WithoutGiver

pytestmark = pytest.mark.django_db


@pytest.fixture
def two_scales(db):
    """The mill's bottles are weighed on one scale, the club's on another."""
    actor = WorkshopFactory(zone="Europe/Berlin")
    for name, mass_mg in (("bench", 3 * KG), ("floor", 2 * KG)):
        SourceFactory(actor=actor, name=f"Giver at the {name}")
        ScaleFactory(actor=actor, name=name)
        weighing = WeighingEntry(gross_mg=mass_mg, tare_mg=0, scale=name)
        bag = BagEntry(mass_mg, form="clean bottles", weighing=weighing)
        OriginFactory(actor=actor, kind="collection", source=f"Giver at the {name}", bags=(bag,))
    return actor


def test_scales_and_ways_of_weighing_are_those_of_its_own_runs(two_scales):
    whole = report(two_scales)
    assert {line["scale"]: line["weighings"] for line in lines(table(whole, "scales"))} == {
        "bench": 1,
        "floor": 1,
    }
    own = report(two_scales, source="Giver at the bench")
    assert [(line["scale"], line["weighings"]) for line in lines(table(own, "scales"))] == [
        ("bench", 1)
    ]
    (line,) = lines(table(own, "weighings"))
    assert (line["figures"], line["mass_mg"]) == (1, 3 * KG)
    assert "runs that this one's material went" in "".join(sections(own)["trust"].text)
    assert "runs that this one's material went" not in texts(whole)


@pytest.fixture
def drying(db):
    """Two givers' flake in a dryer of 1 kW: together for 4 h, then the first's alone for 2 h.

    Of the first run's 4 kWh three quarters are the first giver's, 3 kg of the 4 kg fed.
    """
    actor = WorkshopFactory(zone="Europe/Berlin")
    MachineFactory(actor=actor, name="Oven", kind="dryer")
    shop, lots = Shop(actor), {}
    for name, mass_mg in (("First", 5 * KG), ("Second", 1 * KG)):
        SourceFactory(actor=actor, name=name)
        ProgrammeFactory(actor=actor, name=f"Aim of {name}")
        bags = (BagEntry(mass_mg, form="flake"),)
        about = {"source": name, "programme": f"Aim of {name}", "kind": "collection"}
        lots[name] = OriginFactory(actor=actor, bags=bags, **about).lots[0].code
    together = (DrawEntry(lots["First"], 3 * KG), DrawEntry(lots["Second"], 1 * KG))
    dried = (OutputEntry("dried flake", 4 * KG),)
    run_record(actor, RunEntry("dry", at(1), at(5), machine="Oven", inputs=together, outputs=dried))
    shop.dry(lots["First"], 6, 8, 1 * KG)
    shop.on(shop.part("Oven", "heater", 1000), 1, 5)
    shop.on(next(one.part for one in machine_page(actor, shop.machine("Oven")).parts), 6, 8)
    return actor


def test_the_energy_of_a_run_is_its_givers_by_what_each_was_of_what_was_fed(drying):
    found = {}
    for name, about in (("all", {}), ("1", {"source": "First"}), ("2", {"source": "Second"})):
        (found[name],) = lines(table(report(drying, **about), "energy"))
    assert {name: (line["runs"], line["runs_logged"]) for name, line in found.items()} == {
        "all": (2, 2),
        "1": (2, 2),
        "2": (1, 1),
    }
    kwh = {name: line["energy_kwh"] for name, line in found.items()}
    assert kwh == {name: pytest.approx(is_) for name, is_ in (("all", 6), ("1", 5), ("2", 1))}
    products = {name: line["product_mg"] for name, line in found.items()}
    assert products == {"all": 5 * KG, "1": 4 * KG, "2": 1 * KG}
    assert found["1"]["kwh_per_kg"] == pytest.approx(5 / 4)


def test_it_says_which_runs_are_meant_and_how_their_energy_is_shared(drying):
    document = report(drying, source="Second")
    (line,) = lines(table(document, "runs_through"))
    assert (line["fed_mg"], line["part_mg"], line["part_share"]) == (4 * KG, 1 * KG, 0.25)
    assert "in proportion to its part of the mass that each run was fed" in texts(document)
    assert "in proportion" not in texts(report(drying))


def test_energies_of_programmes_and_the_rest_are_the_whole(drying):
    """The second giver's collection counts towards no programme: it is the rest."""
    Origin.objects.filter(programme__name="Aim of Second").update(programme=None)
    question = ReportQuestion(PERIOD, at(0).date(), at(48).date())
    whole = scope_of(drying, question)
    aim = scope_of(drying, replace(question, programme="Aim of First"))
    rest = WithoutGiver(whole.actor, whole.question, whole.cuts, whole.now, whole.sequence)
    found = [movements(one) for one in (aim, rest)]
    parts = [
        stages_energy(drying, whole.start, whole.end, parts=run_parts(one, fed_of(one)))[0]
        for one in found
    ]
    (all_of_it,) = stages_energy(drying, whole.start, whole.end)
    assert all(one.kwh > 0 for one in parts)
    assert sum(one.kwh for one in parts) == pytest.approx(all_of_it.kwh, rel=1e-12)
    assert sum(one.overhead_kwh for one in parts) == pytest.approx(all_of_it.overhead_kwh)
    assert sum(one.logged_product_mg for one in parts) == all_of_it.logged_product_mg
