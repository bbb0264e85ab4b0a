"""Base load and slope against least squares by hand and a general-purpose library."""

import numpy as np
import pytest

from recycling.calc.energy.base_load import base_load


def test_four_points():
    """Slope 1.02, base 0.95 (least squares, closed form)."""
    fit = base_load([1, 2, 3, 4], [2.0, 2.9, 4.1, 5.0])
    assert fit.slope_kwh_per_kg.value == pytest.approx(1.02, abs=1e-12)
    assert fit.base_kwh.value == pytest.approx(0.95, abs=1e-12)
    assert fit.periods == 4


@pytest.mark.parametrize("seed", range(3))
def test_fit_equals_linregress(seed):
    """Independent: scipy.stats.linregress, with the standard errors of both coefficients."""
    from scipy.stats import linregress

    rng = np.random.default_rng(seed)
    mass = rng.uniform(0, 40, 30)
    kwh = 3 + 0.8 * mass + rng.normal(0, 0.5, 30)
    fit, expected = base_load(mass.tolist(), kwh.tolist()), linregress(mass, kwh)
    assert (fit.slope_kwh_per_kg.value, fit.slope_kwh_per_kg.u) == pytest.approx(
        (expected.slope, expected.stderr)
    )
    assert (fit.base_kwh.value, fit.base_kwh.u) == pytest.approx(
        (expected.intercept, expected.intercept_stderr)
    )
    assert fit.r_squared == pytest.approx(expected.rvalue**2)


def test_flat_energy_has_no_slope():
    fit = base_load([1.0, 2.0, 3.0], [5.0, 5.0, 5.0])
    assert (fit.slope_kwh_per_kg.value, fit.base_kwh.value, fit.residual_kwh) == (0, 5, 0)


@pytest.mark.parametrize(
    ("mass", "kwh", "message"),
    [
        ([1, 2], [1, 2], "at least 3"),
        ([1, 2, 3], [1, 2], "3 masses but 2"),
        ([2, 2, 2], [1, 2, 3], "same in every period"),
        ([0.1, 0.1, 0.1], [1, 2, 3], "same in every period"),
        ([1, 2, -3], [1, 2, 3], "mass_kg"),
        ([1, 2, 3], [1, 2, float("nan")], "energy_kwh"),
    ],
)
def test_periods_that_tell_nothing_are_refused(mass, kwh, message):
    with pytest.raises(ValueError, match=message):
        base_load(mass, kwh)
