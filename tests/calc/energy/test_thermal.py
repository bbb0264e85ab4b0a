"""Least heat against steam tables and a water library."""

import pytest

from recycling.calc.energy.thermal import (
    HeatProperties,
    heat_of_vaporisation_kj_per_kg,
    polymer_heat_kwh_per_kg,
    thermal_check,
    water_heat_kwh_per_kg,
)

PET = HeatProperties(1.4, 1.9, 250.0, 140.0, 0.35, "from memory")


@pytest.mark.parametrize(("celsius", "published"), [(100, 2256.5), (25, 2441.7)])
def test_heat_of_vaporisation_at_two_points(celsius, published):
    """IAPWS-IF97, by the iapws package; the short equations of SR1-86 agree within 0.01 %."""
    assert heat_of_vaporisation_kj_per_kg(celsius) == pytest.approx(published, rel=1e-4)


@pytest.mark.parametrize("celsius", range(20, 201, 15))
def test_heat_of_vaporisation_equals_a_water_library(celsius):
    """Independent: the iapws package, IAPWS-IF97."""
    from iapws import IAPWS97

    kelvin = celsius + 273.15
    expected = IAPWS97(T=kelvin, x=1).h - IAPWS97(T=kelvin, x=0).h
    assert heat_of_vaporisation_kj_per_kg(celsius) == pytest.approx(expected, rel=1.2e-4)


@pytest.mark.parametrize(("start", "dryer"), [(20, 140), (15, 60), (20, 100)])
def test_heat_for_water_equals_a_water_library(start, dryer):
    """Independent: the iapws package; liquid at 20 °C to steam at the evaporating temperature."""
    from iapws import IAPWS97

    liquid = IAPWS97(T=start + 273.15, P=0.101325)
    steam = IAPWS97(T=min(dryer, 100) + 273.15, x=1)
    expected = (steam.h - liquid.h) / 3600
    assert water_heat_kwh_per_kg(start, dryer) == pytest.approx(expected, rel=1e-3)


def test_the_specific_heat_of_water_is_its_mean_up_to_boiling():
    """Independent: the iapws package, IAPWS-IF97."""
    from iapws import IAPWS97

    cold, hot = (IAPWS97(T=celsius + 273.15, P=0.101325).h for celsius in (5, 99.9))
    assert (hot - cold) / (99.9 - 5) == pytest.approx(4.18, rel=5e-3)


def test_pet_to_its_melt():
    """About 0.12 kWh/kg for PET from 20 to 270 °C, by hand; specific heats from memory."""
    assert polymer_heat_kwh_per_kg(PET, 20, 270) == pytest.approx(0.12, abs=0.01)


def test_heat_adds_up_over_the_melting_point():
    heats = HeatProperties(1.0, 2.0, 250.0, 100.0, 0.5, "closed form")
    assert polymer_heat_kwh_per_kg(heats, 20, 270) * 3600 == pytest.approx(230 + 40 + 50)
    assert polymer_heat_kwh_per_kg(heats, 20, 200) * 3600 == pytest.approx(180)
    assert polymer_heat_kwh_per_kg(heats, 260, 270) * 3600 == pytest.approx(20)
    in_two = polymer_heat_kwh_per_kg(heats, 20, 250) + polymer_heat_kwh_per_kg(heats, 250, 270)
    assert in_two == pytest.approx(polymer_heat_kwh_per_kg(heats, 20, 270))


def test_log_below_the_least_is_flagged():
    check = thermal_check(0.10, 1.0, PET, 20, 270)
    assert check.is_incomplete
    assert check.missing_kwh == pytest.approx(check.minimum_kwh - 0.10)
    enough = thermal_check(2.6, 1.0, PET, 20, 270)
    assert (enough.is_incomplete, enough.missing_kwh) == (False, 0.0)


def test_drying_off_water_counts():
    dry = thermal_check(0.0, 2.0, PET, 20, 140)
    wet = thermal_check(0.0, 2.0, PET, 20, 140, water_mass_kg=0.05)
    assert wet.minimum_kwh - dry.minimum_kwh == pytest.approx(0.05 * water_heat_kwh_per_kg(20, 140))


@pytest.mark.parametrize("celsius", [-1, 0, 373.946, 400, float("nan")])
def test_no_steam_beside_ice_or_beyond_critical(celsius):
    with pytest.raises(ValueError):
        heat_of_vaporisation_kj_per_kg(celsius)


def test_cooling_and_bad_figures_are_refused():
    with pytest.raises(ValueError, match="runs down"):
        polymer_heat_kwh_per_kg(PET, 100, 20)
    with pytest.raises(ValueError, match="runs down"):
        water_heat_kwh_per_kg(100, 20)
    for bad in ({"energy_kwh": -1}, {"dry_mass_kg": -1}, {"water_mass_kg": -1}):
        fields = {"energy_kwh": 1.0, "dry_mass_kg": 1.0, "water_mass_kg": 0.0} | bad
        with pytest.raises(ValueError, match=next(iter(bad))):
            thermal_check(heats=PET, from_c=20, to_c=270, **fields)
    with pytest.raises(ValueError, match="crystallinity"):
        HeatProperties(1, 1, 250, 100, 1.5, "x")
    with pytest.raises(ValueError, match="their source"):
        HeatProperties(1, 1, 250, 100, 0.5, "")
    with pytest.raises(ValueError, match="solid_kj_per_kg_k"):
        HeatProperties(-1, 1, 250, 100, 0.5, "x")
