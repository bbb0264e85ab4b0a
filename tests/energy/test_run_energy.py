"""Energy of runs, sessions, stages and lots, against worked examples and closed forms."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from recycling.queries.energy.lots import lot_energy
from recycling.queries.energy.machines import machine_page
from recycling.queries.energy.runs import run_energy
from recycling.queries.energy.stages import stage_base_load, stages_energy
from recycling.records.energy.entries import (
    FactorEntry,
    PhaseEntry,
    ReadingSent,
    ReadingsEntry,
    TariffEntry,
)
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.energy.notes import logged_take_back, part_tap, phase_add
from recycling.services.energy.prices import factor_add, tariff_add
from recycling.services.energy.readings import readings_keep
from recycling.services.runs.run_record import run_record
from recycling.services.runs.void import run_void
from shared.errors import Refused
from tests.energy.conftest import at, setting
from tests.factories import KG


def test_rated_power_duty_and_logged_time_make_the_worked_example(shop):
    # closed form, power times duty times hours: 1.2 kW 0.45 5 h + 0.8 0.6 2.5 + 0.8 0.5 = 4.30 kWh
    run, _ = shop.dry(shop.bag(), 0, 5, 1_620_000)
    shop.on(shop.part("Oven", "heater", 1200, 45), 0, 5)
    shop.on(shop.part("Oven", "second heater", 800, 60), 0, 2.5)
    shop.on(shop.part("Oven", "fan", 800, 50), 1, 2)
    energy = run_energy(shop.actor, run)
    assert energy.kwh == pytest.approx(4.30)
    assert energy.kwh_per_kg == pytest.approx(2.654, abs=5e-4)
    assert (energy.method, energy.coverage) == ("rated power", 1.0)


def test_a_meter_is_trusted_before_power_and_power_before_rated(shop):
    run, _ = shop.dry(shop.bag(), 0, 4)
    shop.on(shop.part("Oven", "heater", 1000), 0, 4)
    assert run_energy(shop.actor, run).method == "rated power"
    samples = tuple(ReadingSent(at(hour / 12), 500.0) for hour in range(49))
    readings_keep(shop.actor, ReadingsEntry("Oven", "power", samples))
    power = run_energy(shop.actor, run)
    assert (power.method, power.kwh) == ("power log", pytest.approx(2.0))
    shop.reading("Oven", -0.25, 100)
    shop.reading("Oven", 4.25, 112)
    meter = run_energy(shop.actor, run)
    assert (meter.method, meter.kwh) == ("meter reading", pytest.approx(12 * 4 / 4.5))
    assert (meter.least_kwh, meter.most_kwh) == (0.0, 12.0)
    assert {one.method: one.taken for one in meter.sources} == {
        "meter reading": True,
        "power log": False,
        "rated power": False,
    }


def test_readings_far_outside_a_run_are_only_trusted_where_nothing_else_speaks(shop):
    run, _ = shop.dry(shop.bag(), 24, 28)
    shop.reading("Oven", 0, 100)
    shop.reading("Oven", 48, 112)
    alone = run_energy(shop.actor, run)
    assert (alone.method, alone.kwh) == ("meter reading", pytest.approx(1.0))
    assert (alone.least_kwh, alone.most_kwh) == (0.0, 12.0)
    shop.on(shop.part("Oven", "heater", 1000), 24, 28)
    assert run_energy(shop.actor, run).method == "rated power"


def test_a_gap_stays_a_gap_and_is_told(shop):
    run, _ = shop.dry(shop.bag(), 0, 4)
    samples = tuple(
        ReadingSent(at(minute / 60), 600.0) for minute in (*range(61), *range(180, 241))
    )
    readings_keep(shop.actor, ReadingsEntry("Oven", "power", samples, max_gap_s=120))
    energy = run_energy(shop.actor, run)
    assert energy.coverage == pytest.approx(0.5)
    assert energy.kwh == pytest.approx(1.2)


def test_warm_up_and_purge_are_shared_by_mass_and_shown_apart(shop):
    first, _ = shop.dry(shop.bag(), 1, 3, 1 * KG)
    second, _ = shop.dry(shop.bag(), 3.5, 4.5, 3 * KG)
    shop.on(shop.part("Oven", "heater", 1000), 0, 5)
    phase_add(shop.actor, PhaseEntry(shop.machine("Oven"), "purge", at(4.5), at(5)))
    a, b = run_energy(shop.actor, first), run_energy(shop.actor, second)
    assert (a.own_kwh, b.own_kwh) == (pytest.approx(2.0), pytest.approx(1.0))
    assert {one.phase: round(one.kwh, 9) for one in a.overhead} == {
        "warm-up": 0.25,
        "standby": 0.125,
        "purge": 0.125,
    }
    assert b.overhead_kwh == pytest.approx(1.5)
    assert a.kwh + b.kwh == pytest.approx(5.0)  # nothing of the session is lost or doubled


def test_two_runs_at_once_share_by_mass(shop):
    first, _ = shop.dry(shop.bag(), 0, 4, 1 * KG)
    second, _ = shop.dry(shop.bag(), 2, 4, 3 * KG)
    shop.on(shop.part("Oven", "heater", 1000), 0, 4)
    assert run_energy(shop.actor, first).kwh == pytest.approx(2.5)
    assert run_energy(shop.actor, second).kwh == pytest.approx(1.5)


def test_a_void_run_bears_nothing(shop):
    first, _ = shop.dry(shop.bag(), 0, 2)
    second, _ = shop.dry(shop.bag(), 2, 4)
    shop.on(shop.part("Oven", "heater", 1000), 0, 4)
    run_void(shop.actor, second, "recorded twice")
    assert run_energy(shop.actor, second) is None
    assert run_energy(shop.actor, first).kwh == pytest.approx(4.0)


def test_less_than_heat_alone_is_called_incomplete(shop):
    run, _ = shop.dry(shop.bag(), 0, 1, settings=(setting("real_c", 140, 0),), water_mg=10_000)
    heater = shop.part("Oven", "heater", 50)
    shop.on(heater, 0, 1)
    energy = run_energy(shop.actor, run)
    # 0.99 kg 1.4 kJ/(kg K) 120 K / 3600 + 0.010 kg 0.7199 kWh/kg (steam tables at 100 °C)
    assert energy.minimum_kwh == pytest.approx(0.99 * 1.4 * 120 / 3600 + 0.010 * 0.7199, rel=1e-3)
    assert energy.is_incomplete
    shop.on(shop.part("Oven", "second", 500), 0, 1)
    assert not run_energy(shop.actor, run).is_incomplete


def test_a_lot_carries_what_was_spent_on_the_way_and_waste_nothing(shop):
    flake = shop.bag()
    _, dried = shop.dry(flake, 0, 2, 2 * KG, water_mg=200_000)
    shop.on(shop.part("Oven", "heater", 900), 0, 2)
    done = shop.extrude(dried, 3, 4, 900_000)
    shop.on(shop.part("Barrel one", "barrel heater", 600), 3, 4)
    spool = next(lot.code for lot in done.lots if lot.form == "filament")
    carried = lot_energy(shop.actor, spool)
    # half of the dried 1.8 kg brings 0.9 kWh; with 0.6 kWh here, shared with a heel of 60 g
    assert carried.kwh == pytest.approx((0.9 + 0.6) * 800 / 860)
    assert [step.stage for step in carried.steps] == ["dry", "extrude"]
    assert carried.unlogged == 0
    assert lot_energy(shop.actor, flake).kwh == 0


def test_waste_carries_none_so_that_the_spool_carries_what_was_lost(shop):
    dried = shop.bag("dried flake")
    done = run_record(
        shop.actor,
        RunEntry(
            "extrude",
            at(0),
            at(2),
            machine="Barrel one",
            inputs=(DrawEntry(dried, KG),),
            outputs=(
                OutputEntry("filament", 600_000, spool=SpoolEntry()),
                OutputEntry("offcuts", 200_000, role="recirculate"),
                OutputEntry("start-up scrap", 200_000, role="waste"),
            ),
        ),
    )
    shop.on(shop.part("Barrel one", "heater", 1000), 0, 2)
    carried = {lot.form: lot_energy(shop.actor, lot.code) for lot in done.lots}
    assert carried["filament"].kwh == pytest.approx(1.5)
    assert carried["offcuts"].kwh == pytest.approx(0.5)
    waste = carried["start-up scrap"]
    assert (waste.kwh, waste.carries) == (0, False)


def test_a_stage_adds_up_and_its_weeks_make_a_line(shop):
    # least squares by hand through (1, 2.0) (2, 2.9) (3, 4.1) (4, 5.0): slope 1.02, base 0.95
    heater = shop.part("Oven", "heater", 1000)
    for week, (mass_kg, kwh) in enumerate([(1, 2.0), (2, 2.9), (3, 4.1), (4, 5.0)]):
        start = week * 7 * 24
        shop.dry(shop.bag(), start, start + kwh, mass_kg * KG)
        shop.on(heater, start, start + kwh)
    line = stage_base_load(shop.actor, "dry", at(-1), at(1000))
    assert line.slope_kwh_per_kg == pytest.approx(1.02)
    assert line.base_kwh == pytest.approx(0.95)
    (stage,) = stages_energy(shop.actor, at(-1), at(1000))
    assert (stage.runs, stage.kwh) == (4, pytest.approx(14.0))
    assert stage.kwh_per_kg == pytest.approx(1.4)


def test_cost_and_carbon_come_only_from_what_was_entered(shop):
    run, _ = shop.dry(shop.bag(), 0, 10)
    shop.on(shop.part("Oven", "heater", 1000), 0, 10)
    assert run_energy(shop.actor, run).carbon_kg is None
    day = date(2023, 5, 1)
    tariff_add(shop.actor, TariffEntry(0.3, "eur", "the bill", day, day))
    # 823.1 lb/MWh = 0.373352 kg/kWh (NIST SP 811, pound exact)
    factor_add(shop.actor, FactorEntry(823.1, "lb/MWh", "generation", "x", 2022, "y", day, day))
    tariff_add(shop.actor, TariffEntry(9.9, "EUR", "later", day, date(2030, 1, 1)))
    energy = run_energy(shop.actor, run)
    assert (energy.cost, energy.cost_currency) == (pytest.approx(3.0), "EUR")
    assert energy.carbon_kg == pytest.approx(3.73352, abs=1e-5)
    assert "y" in energy.carbon_source


def test_a_counter_that_fell_counts_from_zero(shop):
    shop.reading("Oven", 0, 50)
    shop.reading("Oven", 1, 3)
    run, _ = shop.dry(shop.bag(), 0, 1)
    assert run_energy(shop.actor, run).kwh == pytest.approx(3.0)
    newest = machine_page(shop.actor, shop.machine("Oven")).readings[0]
    assert (newest.reading_kwh, newest.since_kwh) == (3.0, 3.0)


def test_times_that_would_count_twice_are_refused(shop):
    heater = shop.part("Oven", "heater", 1000)
    shop.on(heater, 0, 2)
    with pytest.raises(Refused, match="count twice"):
        shop.on(heater, 1.5, 3)
    shop.on(heater, 2, 3)
    with pytest.raises(Refused, match="not after"):
        shop.on(heater, 5, 4)


def test_a_tap_twice_changes_nothing_and_what_is_taken_back_counts_no_more(shop):
    heater, oven = shop.part("Oven", "heater", 1000), shop.machine("Oven")
    part_tap(shop.actor, heater, True)
    part_tap(shop.actor, heater, True)
    (part,) = machine_page(shop.actor, oven).parts
    assert part.on_since is not None
    part_tap(shop.actor, heater, False)
    part_tap(shop.actor, heater, False)
    (time,) = machine_page(shop.actor, oven).times
    assert time.ended_at > time.started_at
    with pytest.raises(Refused, match="why"):
        logged_take_back(shop.actor, "time", time.id, " ")
    logged_take_back(shop.actor, "time", time.id, "tapped by mistake")
    assert machine_page(shop.actor, oven).times == ()


def test_sent_values_are_kept_once_and_all_or_nothing(shop):
    samples = tuple(ReadingSent(at(minute / 60), 100.0) for minute in range(5))
    sent = ReadingsEntry("Oven", "power", samples)
    assert readings_keep(shop.actor, sent).kept == 5
    assert (readings_keep(shop.actor, sent).kept, readings_keep(shop.actor, sent).known) == (0, 5)
    other = (ReadingSent(at(1), 7.0), ReadingSent(at(0), 101.0))
    with pytest.raises(Refused) as refused:
        readings_keep(shop.actor, ReadingsEntry("Oven", "power", other))
    assert refused.value.problems[0].pointer == "/readings/1/reading"
    again = readings_keep(shop.actor, ReadingsEntry("Oven", "power", (ReadingSent(at(1), 8.0),)))
    assert again.kept == 1  # nothing of the refused request was kept


def test_a_counter_that_runs_faster_than_its_plates_is_asked_about(shop):
    shop.part("Oven", "hot", 2000)
    plates = machine_page(shop.actor, shop.machine("Oven")).parts
    hour = sum(part.rated_w for part in plates) / 1000
    steady = (ReadingSent(at(0), hour), ReadingSent(at(1), 2 * hour))
    assert readings_keep(shop.actor, ReadingsEntry("Oven", "counter", steady)).doubts == ()
    jump = (ReadingSent(at(2), 30 * hour),)
    (doubt,) = readings_keep(shop.actor, ReadingsEntry("Oven", "counter", jump)).doubts
    assert doubt.field == "/readings/0/reading" and "than its plates allow" in doubt.said
    assert [one.value for one in doubt.suggestions] == [f"{3 * hour:.12g}"]
    sure = replace(shop.actor, confirmed=frozenset({"/readings/0/reading"}))
    again = (ReadingSent(at(3), 60 * hour),)
    assert readings_keep(sure, ReadingsEntry("Oven", "counter", again)).doubts == ()


def test_the_energy_of_a_run_in_which_a_dial_ran_over_and_the_meter_was_replaced(shop):
    """Over 99 990 → 99 998 → 3, then a new meter 0 → 1 → 2: 8 + 5 + 1 + 1 kWh, as by hand."""
    shop.machine("Oven")
    rows = ((0, 99_990, ""), (1, 99_998, ""), (2, 3, "ran over"), (3, 1, "replaced"), (4, 2, ""))
    sent = tuple(ReadingSent(at(hour), kwh, fell_because=why) for hour, kwh, why in rows)
    assert readings_keep(shop.actor, ReadingsEntry("Oven", "counter", sent)).doubts == ()
    run, _ = shop.dry(shop.bag(), 0, 4)
    assert run_energy(shop.actor, run).kwh == pytest.approx(15.0)


def test_a_sent_counter_below_which_the_book_has_a_later_one_is_refused_whole(shop):
    shop.reading("Oven", 2, 4)
    above = (ReadingSent(at(0), 3.0), ReadingSent(at(1), 5.0))
    with pytest.raises(Refused, match="which it showed later"):
        readings_keep(shop.actor, ReadingsEntry("Oven", "counter", above))
    assert len(machine_page(shop.actor, shop.machine("Oven")).readings) == 1
