"""The demo's energy, measurements, practice, changeovers and feed order. Its figures are invented.

Bounds that no invention may break: energy above what heat alone takes (first law), a diameter
within what the trade sells as 1.75 mm (common practice).
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.utils import timezone

from recycling.demo import cast
from recycling.models import (
    BottleSample,
    Changeover,
    EnergyFactor,
    EnergyTariff,
    FilamentReading,
    MachinePart,
    MachinePhase,
    MeterReading,
    ParticleSample,
    PartTime,
    Run,
)
from recycling.queries.energy.stages import runs_energy, stage_base_load, stages_energy
from recycling.queries.lots.origins import lot_origins
from recycling.queries.process.changeovers import changeover_desk
from recycling.queries.quality.checks import lot_checks
from recycling.queries.setup.practice import barrel_of, practices, windows
from recycling.queries.setup.register import machines
from recycling.web.energy.previews import sure
from tests.web.reading.reading_pages import text_of

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
BEGINNING = datetime(2000, 1, 1, tzinfo=UTC)


def stages(lead):
    return {one.stage: one for one in stages_energy(lead, BEGINNING, timezone.now())}


def test_most_dryings_and_extrusions_are_logged_but_not_all(lead):
    for stage in ("dry", "extrude"):
        found = stages(lead)[stage]
        assert found.runs > found.runs_logged > 0.7 * found.runs
        assert 0.7 < found.coverage < 1
        assert found.runs_incomplete == 0
        assert 0.5 < found.kwh_per_kg < 4
        assert found.currency == "EUR" and found.cost > 0 and found.carbon_kg > 0
    assert stages(lead)["extrude"].overhead_kwh > 0


def test_no_run_took_less_than_heat_alone_must(lead):
    logged = [one for one in runs_energy(lead, BEGINNING, timezone.now()) if one.method]
    known = [one for one in logged if one.minimum_kwh is not None]
    assert len(known) > 30
    assert all(one.kwh > one.minimum_kwh for one in known)


def test_the_extruder_got_a_meter_that_never_runs_backward_and_is_trusted_first(lead):
    rows = MeterReading.objects.filter(machine__workshop_id=lead.workshop_id).order_by("read_at")
    assert set(rows.values_list("machine__name", flat=True)) == {cast.EXTRUDER}
    shown = list(rows.values_list("reading_kwh", flat=True))
    assert len(shown) > 40 and shown == sorted(shown)
    extruded = runs_energy(lead, BEGINNING, timezone.now(), stage="extrude")
    methods = [one.method for one in extruded]
    assert {"rated power", "meter reading"} <= set(methods)
    metered = [one for one in extruded if one.method == "meter reading"]
    assert all(one.least_kwh <= one.own_kwh <= one.most_kwh for one in metered)
    assert any(one.least_kwh < one.most_kwh for one in metered)
    hot = [one for one in metered if one.product_mg]
    assert len(hot) > 10 and all(one.least_kwh > 0.5 * one.most_kwh for one in hot)


def test_plates_prices_and_factors_say_that_they_are_invented(lead):
    parts = MachinePart.objects.filter(machine__workshop_id=lead.workshop_id)
    assert parts.count() >= 8
    said = set(parts.values_list("source", flat=True))
    said |= set(EnergyTariff.objects.values_list("source", flat=True))
    said |= set(EnergyFactor.objects.values_list("publisher", flat=True))
    assert len(said) >= 2 and all("nvented for the demo" in one for one in said)
    assert PartTime.objects.count() > 100 and MachinePhase.objects.count() > 10


def test_weeks_of_extruding_have_a_base_load(lead):
    line = stage_base_load(lead, "extrude", BEGINNING, timezone.now())
    assert len(line.points) >= 5 and not line.why_not
    assert line.slope_kwh_per_kg > 0


def test_bottles_flake_and_spools_were_measured(lead):
    assert all(len(one.masses_mg) >= 10 for one in BottleSample.objects.all())
    assert BottleSample.objects.count() == 2
    assert ParticleSample.objects.count() >= 8
    assert FilamentReading.objects.count() >= 15
    for reading in FilamentReading.objects.all():
        assert all(1.6 < one < 1.9 for one in reading.first_mm + reading.second_mm)
    spool = FilamentReading.objects.first().lot.code
    assert lot_checks(lead, spool).filament is not None


def test_particles_measured_are_those_that_the_run_speaks_of(lead):
    for sample in ParticleSample.objects.select_related("lot"):
        run = Run.objects.get(pk=sample.lot.made_by_id)
        said = dict(run.checks.values_list("key", "value"))
        assert len(sample.sizes_mm) == int(said["sample_count"])
        assert max(sample.sizes_mm) == float(said["largest_mm"])
        assert sum(one > 4 for one in sample.sizes_mm) == int(said["above_count"])


def test_the_workshop_put_its_own_practice_in_place(lead):
    assert sum(one.own for one in practices(lead)) >= 3
    assert [one.kind for one in windows(lead) if one.own] == ["purge compound"]
    (extruder,) = (one.id for one in machines(lead) if one.name == cast.EXTRUDER)
    assert barrel_of(extruder).holdup_g > 0
    desk = changeover_desk(lead, extruder)
    assert desk.refit is not None and 40 < desk.refit.holdup_g < 100


def test_changeovers_were_planned_and_used(lead):
    rows = Changeover.objects.filter(workshop_id=lead.workshop_id)
    assert rows.count() == 2 and not rows.filter(used_at=None).exists()
    for row in rows:
        assert (row.before, row.after) == ("PET", "PLA")
        assert 0.7 < row.purge_used_mg / (1000 * row.plan["purge_g"]) < 1.5


def test_some_extrusions_are_composed_in_feed_order(lead):
    runs = Run.objects.filter(workshop_id=lead.workshop_id, composition_model="feed order")
    assert set(runs.values_list("polymer", flat=True)) == {"PET", "PLA"}
    pla = runs.get(polymer="PLA")
    assert pla.feeds.count() >= 2
    bought = pla.draws.get(lot__form="pellets").lot
    (whose,) = (one.code for one in lot_origins(lead, bought.code).origins)
    shares = []
    for lot in pla.outputs.order_by("number"):
        parts = lot_origins(lead, lot.code).origins
        shares.append((lot.form, sum(one.share for one in parts if one.code == whose)))
    assert shares[0][0] == "changeover scrap" and shares[0][1] < 0.6
    clean = [share for form, share in shares if form == "filament"]
    assert len(clean) >= 2 and clean == sorted(clean) and clean[-1] > 0.99


def test_the_pages_of_energy_have_figures(lead, signed_in):
    page = text_of(signed_in.get(f"/w/{cast.WORKSHOP.slug}/energy/"))
    extruded = stages(lead)["extrude"]
    assert sure(extruded.kwh, extruded.covered.half) in page and "EUR" in page
    (run, *_) = runs_energy(lead, BEGINNING, timezone.now(), stage="extrude")
    page = text_of(signed_in.get(f"/w/{cast.WORKSHOP.slug}/runs/{run.run}/energy/"))
    assert sure(run.kwh, run.covered.half) in page and "nvented for the demo" in page
