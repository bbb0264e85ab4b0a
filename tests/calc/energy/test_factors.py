"""Carbon and cost only from factors with their source."""

from datetime import date

import pytest

from recycling.calc.energy.factors import CarbonFactor, Tariff, carbon_kg, cost, kg_per_kwh
from shared.measured import Measured

READ = date(2024, 5, 1)


def factor(**changed):
    fields = {
        "value": 823.1,
        "unit": "lb/MWh",
        "scope": "generation",
        "region": "US",
        "year": 2022,
        "publisher": "US EPA, eGRID2022",
        "read_date": READ,
    }
    return CarbonFactor(**(fields | changed))


def test_pounds_per_megawatt_hour():
    """eGRID2022 US average, 823.1 lb/MWh = 0.373352 kg/kWh (US EPA; pound exact)."""
    assert kg_per_kwh(factor()).value == pytest.approx(0.373352, abs=5e-7)


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        ("kg/kWh", 0.4),
        ("g/kWh", 400),
        ("kg/MWh", 400),
        ("t/MWh", 0.4),
        ("lb/kWh", 0.4 / 0.45359237),
    ],
)
def test_units_agree(unit, value):
    assert kg_per_kwh(factor(value=value, unit=unit)).value == pytest.approx(0.4)


def test_carbon_and_cost_carry_the_uncertainty():
    """Independent: the uncertainties library."""
    from uncertainties import ufloat

    kwh = Measured(4.3, 0.2)
    expected = ufloat(4.3, 0.2) * ufloat(0.4, 0.03)
    found = carbon_kg(kwh, factor(value=0.4, unit="kg/kWh", u_value=0.03))
    assert (found.value, found.u) == pytest.approx((expected.nominal_value, expected.std_dev))
    assert cost(kwh, Tariff(0.25, "EUR", "bill of May", READ)).u == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"unit": "kg"}, "kg is not one of"),
        ({"value": -1.0}, "the factor cannot be negative"),
        ({"value": float("nan")}, "the factor must be a finite"),
        ({"u_value": -0.1}, "uncertainty"),
        ({"scope": " "}, "its scope"),
        ({"region": ""}, "its region"),
        ({"publisher": ""}, "its publisher"),
        ({"year": 2025}, "read in 2024 cannot be for 2025"),
    ],
)
def test_factor_without_its_source_is_refused(changed, message):
    with pytest.raises(ValueError, match=message):
        factor(**changed)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ((float("inf"), "EUR", "bill"), "price_per_kwh"),
        ((0.3, "euro", "bill"), "three letters"),
        ((0.3, "EUR", ""), "its source"),
    ],
)
def test_price_without_its_source_is_refused(fields, message):
    with pytest.raises(ValueError, match=message):
        Tariff(*fields, READ)


def test_negative_energy_is_refused():
    with pytest.raises(ValueError, match="energy_kwh"):
        carbon_kg(Measured(-1.0), factor())
    with pytest.raises(ValueError, match="energy_kwh"):
        cost(Measured(-1.0), Tariff(0.3, "EUR", "bill", READ))
