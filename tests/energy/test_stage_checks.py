"""Checks at the stages, against intervals and figures from outside."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.queries.planning.today import today
from recycling.queries.quality.checks import lot_checks
from recycling.queries.runs.runs import run_page
from recycling.queries.tuning.setting_waits import run_wait
from recycling.queries.tuning.similar_runs import closest_runs
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
from recycling.records.lots.notes import LotEventEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.quality.entries import FilamentEntry, ParticlesEntry, VerdictEntry
from recycling.records.runs.entries import RunEntry, SettingEntry
from recycling.records.setup.practice import PracticeEntry
from recycling.services.lots.lot_notes import lot_event
from recycling.services.quality.measurements import filament_measure, particles_measure
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import run_draw, run_log, run_open, run_output_add
from recycling.services.setup.practice import practice_set
from recycling.stages import stage
from shared.errors import Refused
from tests.energy.conftest import at, noted, setting
from tests.factories import KG, G, MemberFactory, OriginFactory, SourceFactory
from tests.notation import required_checks


def test_one_of_ten_too_large_is_run_again_with_its_interval(shop):
    flake = shop.bag()
    sizes = (*([3.0] * 9), 4.2)  # common practice: below 4 mm before feeding
    particles_measure(shop.actor, ParticlesEntry(flake, sizes))
    (row,) = lot_checks(shop.actor, flake).particles
    # Clopper and Pearson 1934, 1 of 10 at 95 %
    assert (row.low, row.high) == (pytest.approx(0.002529, abs=5e-7), pytest.approx(0.445016))
    assert (row.decision, row.sure) == ("run again", False)


def test_none_of_ten_is_fed_but_not_sure_and_the_limit_stays_with_the_sample(shop):
    flake = shop.bag()
    particles_measure(shop.actor, ParticlesEntry(flake, (3.0,) * 10))
    practice_set(shop.actor, PracticeEntry("particle_limit_mm", 2.5, "finer screw"))
    particles_measure(shop.actor, ParticlesEntry(flake, (3.0,) * 10))
    newest, first = lot_checks(shop.actor, flake).particles
    assert (first.decision, first.sure, first.needed) == ("feed", False, 72)
    assert first.high == pytest.approx(0.308497, abs=5e-7)
    assert (newest.decision, newest.limit_mm) == ("run again", 2.5)


@pytest.mark.parametrize("sizes", [(), (0.0,), (float("nan"),), (3.0, -1.0)])
def test_sizes_that_are_none_are_refused(shop, sizes):
    with pytest.raises(Refused):
        particles_measure(shop.actor, ParticlesEntry(shop.bag(), sizes))


def test_bottles_have_no_particles(shop):
    with pytest.raises(Refused, match="is bottles"):
        particles_measure(shop.actor, ParticlesEntry(shop.bag("bottles"), (3.0,)))


def test_drying_is_held_against_the_recipe_and_open_time_is_counted(shop):
    # PET at 120 to 165 °C for 4 h (guide in tests/checks/polymers.json); here 2 h of heating up
    # and 3 h at temperature
    log = (setting("real_c", 90, 0), setting("real_c", 140, 2))
    _, dried = shop.dry(shop.bag(), 0, 5, settings=log, checks=(noted("kept", "sealed", 5),))
    lot_event(shop.actor, LotEventEntry(dried, "opened", at(7)))
    shop.extrude(dried, 9, 10, 500_000)
    drying = lot_checks(shop.actor, dried).drying
    assert (drying.at_temperature_h, drying.missing_h) == (3.0, 1.0)
    assert drying.dry_enough is False
    assert drying.temperature_source == "real"
    fed = drying.open[0]
    assert fed.open_h == pytest.approx(3.0)  # drawn at the end of a run that is recorded whole
    assert not fed.within
    assert drying.open[-1].run == ""
    assert 0 < drying.moisture_percent < 0.3
    assert 0 < drying.viscosity_loss < drying.viscosity_before
    assert drying.estimate_source == "default, not checked"


def test_measured_moisture_goes_before_the_estimate(shop):
    checks = (
        noted("moisture_after_percent", 0.005, 5),
        noted("hours_at_temperature", 5, 5),
        noted("kept", "sealed", 5),
    )
    _, dried = shop.dry(shop.bag(), 0, 5, checks=checks)
    drying = lot_checks(shop.actor, dried).drying
    assert (drying.moisture_measured, drying.dry_enough) == (True, True)
    # 50 ppm of water cut 0.036 dL/g off 0.76: the doctest of the calculation, K and a from memory
    assert drying.viscosity_loss == pytest.approx(0.036, abs=5e-4)


def test_a_spool_says_its_diameter_ovality_and_metres_left(shop):
    spool = OutputEntry("filament", KG, spool=SpoolEntry(1.75, 0.05, 200_000))
    pla = shop.bag("pellets", 2 * KG, "PLA")
    run = run_open(
        shop.actor, RunEntry("extrude", at(0), machine="Barrel one", inputs=(DrawEntry(pla, KG),))
    )
    code = run_output_add(shop.actor, run.code, (spool,), at(1)).lots[0].code
    before = lot_checks(shop.actor, code).filament
    # 1.75 mm and 1.24 g/cm³: 335.28 m/kg (closed form)
    assert before.metres_left == pytest.approx(335.28, abs=0.01)
    filament_measure(shop.actor, FilamentEntry(code, (1.78, 1.75), (1.72, 1.75), 335.28))
    after = lot_checks(shop.actor, code).filament
    assert (after.readings, after.mean_mm, after.within) == (4, pytest.approx(1.75), True)
    assert after.ovality_percent == pytest.approx(3.43, abs=0.005)
    assert after.implied_mm == pytest.approx(1.75, abs=0.001)
    assert after.u_metres_left > 0
    filament_measure(shop.actor, FilamentEntry(code, (1.81,)))
    assert lot_checks(shop.actor, code).filament.outside == 1
    with pytest.raises(Refused, match="same places"):
        filament_measure(shop.actor, FilamentEntry(code, (1.75, 1.75), (1.75,)))


def test_a_spool_keeps_the_settings_in_force_while_it_was_wound(shop):
    flake = shop.bag("dried flake", 5 * KG)
    run = run_open(
        shop.actor,
        RunEntry(
            "extrude",
            at(0),
            machine="Barrel one",
            inputs=(DrawEntry(flake, 3 * KG),),
            settings=(setting("zone_1_c", 265, 0),),
        ),
    ).code
    spool = OutputEntry("filament", KG, spool=SpoolEntry())
    first = run_output_add(shop.actor, run, (spool,), at(1)).lots[0].code
    run_log(shop.actor, run, settings=(SettingEntry("zone_1_c", "270", at(1.5)),))
    second = run_output_add(shop.actor, run, (spool,), at(2)).lots[0].code
    run_log(shop.actor, run, settings=(SettingEntry("zone_1_c", "275", at(3)),))
    (one,) = lot_checks(shop.actor, first).settings
    (two,) = lot_checks(shop.actor, second).settings
    assert (one.value, one.changed) == ("265", False)
    assert (two.value, two.changed) == ("270", True)


def test_a_change_of_a_setting_starts_a_wait_that_a_reload_does_not_end(shop):
    flake = shop.bag("dried flake")
    started = timezone.now() - timedelta(hours=1)
    bags = (BagEntry(KG, form="dried flake"),)
    flake = OriginFactory(actor=shop.actor, happened_at=started, bags=bags).lots[0].code
    run = run_open(
        shop.actor,
        RunEntry("extrude", started, machine="Barrel one", inputs=(DrawEntry(flake, KG),)),
    ).code
    assert run_wait(shop.actor, run) is None
    changed = timezone.now() - timedelta(minutes=5)
    run_log(shop.actor, run, settings=(SettingEntry("zone_1_c", "265", changed),))
    wait = run_wait(shop.actor, run)
    assert not wait.over
    assert wait.until_at == changed + timedelta(minutes=12)  # common practice: 10 to 15 minutes
    assert run_wait(shop.actor, run) == wait
    practice_set(shop.actor, PracticeEntry("wait_min", 3, "our own trials"))
    assert run_wait(shop.actor, run).over


def test_of_settings_changed_at_once_both_pages_name_the_same(shop):
    run = run_open(shop.actor, RunEntry("extrude", timezone.now(), machine="Barrel one")).code
    at = timezone.now()
    both = (SettingEntry("zone_1_c", "265", at), SettingEntry("screw_rpm", "40", at))
    run_log(shop.actor, run, settings=both)
    (row,) = today(shop.actor).open_runs
    assert run_wait(shop.actor, run).label == row.due.label


def test_the_closest_runs_show_what_their_product_was_made_at_and_what_their_pages_say(shop):
    """A shutdown purge is set last and makes no spool; a later good verdict lifts no bad one."""
    SourceFactory(actor=shop.actor, name="North")
    bags = (BagEntry(10 * KG, form="dried flake"),)
    lot = OriginFactory(actor=shop.actor, kind="collection", source="North", bags=bags).lots[0].code
    OriginFactory(
        actor=shop.actor,
        kind="opening",
        source="",
        bags=(BagEntry(90 * G, form="heel", polymer="HDPE", machine="Barrel one"),),
    )
    run = run_open(shop.actor, RunEntry("extrude", timezone.now(), machine="Barrel one")).code
    start = timezone.now()
    run_draw(shop.actor, run, [DrawEntry(lot, 2 * KG)])  # the heel went in when it was opened
    run_log(shop.actor, run, settings=(SettingEntry("zone_1_c", "262", start),))
    spool = run_output_add(shop.actor, run, [OutputEntry("filament", 1 * KG)]).lots[0].code
    run_log(shop.actor, run, settings=(SettingEntry("zone_1_c", "230", timezone.now()),))
    purge = (OutputEntry("changeover scrap", 900 * G, "PET"),)
    run_close(shop.actor, run, outputs=purge, checks=required_checks(stage("extrude")))
    for giver, good in (("Io", False), ("Bo", True)):
        member = MemberFactory(actor=shop.actor, name=giver, role="viewer")
        verdict_give(member, VerdictEntry(spool, good, () if good else ("brittle",)))
    (found,) = closest_runs(shop.actor, lot)
    assert found.settings == "Zone 1 262 °C"
    assert (found.good, found.bad) == (0, 1)
    assert found.stage_yield == run_page(shop.actor, run).stage_yield == pytest.approx(0.5)


def test_the_closest_earlier_runs_come_from_the_same_sources(shop):
    lots = {}
    for name in ("North", "South"):
        SourceFactory(actor=shop.actor, name=name)
        bags = (BagEntry(10 * KG, form="dried flake"),)
        entry = {"kind": "collection", "source": name, "bags": bags}
        lots[name] = OriginFactory(actor=shop.actor, **entry).lots[0].code
    north = shop.extrude(lots["North"], 0, 1, settings=(setting("zone_1_c", 262, 0),)).code
    south = shop.extrude(lots["South"], 2, 3).code
    found = closest_runs(shop.actor, lots["North"])
    assert [one.run for one in found] == [north, south]
    assert found[0].likeness == pytest.approx(1.0)
    # the second run took in the first one's heel: 60 g of its 1060 g are of the north
    assert found[1].likeness == pytest.approx(60 / 1060, rel=1e-3)
    assert found[0].settings == "Zone 1 262 °C"
