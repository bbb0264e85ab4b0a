import pytest

from recycling.calc.process.drying import viscosity_loss_at_most
from recycling.calc.process.regain import diffusivity_at, moisture_at_most, regained

# Crank 1975, 4.3.2; several stretches by superposition. Held against an explicit finite-difference
# solution of Fick's second law by a separate program: 0.05121, 0.10963, 0.23013, 0.14882 %.
STRETCHES = (
    ([(0.02, 0.3)], 0.05123),
    ([(0.1, 0.3)], 0.10962),
    ([(0.5, 0.3)], 0.23013),
    ([(0.05, 0.3), (0.1, 0.5), (0.03, 0.1)], 0.14881),
)
# PET: 4e-13 m²/s at 25 °C, 43 kJ/mol, 0.6 % at saturation (Yasuda and Stannett 1962; Dubelley et
# al. 2017; figures from memory); Mark-Houwink K and a from memory
OPEN_PET = ((0.25, 0.0447, 0.22), (1, 0.0844, 0.32), (24, 0.2918, 0.514))


@pytest.mark.parametrize("stretches, percent", STRETCHES)
def test_a_slab_takes_up_water_as_the_series_says(stretches, percent):
    shares = [(fourier, balance / 100) for fourier, balance in stretches]
    assert 100 * regained(0.004 / 100, shares) == pytest.approx(percent, abs=1.5e-5)


def test_stretches_of_one_humidity_are_one_stretch():
    parts = regained(1e-5, [(0.03, 3e-3), (0.07, 3e-3)])
    assert parts == pytest.approx(regained(1e-5, [(0.1, 3e-3)]), rel=1e-12)
    assert regained(1e-5, []) == 1e-5


@pytest.mark.parametrize("hours, percent, loss", OPEN_PET)
def test_thin_flake_of_pet_is_wet_within_minutes(hours, percent, loss):
    diffusivity = diffusivity_at(23, 4e-13, 43)
    moisture = moisture_at_most(5e-5, hours, 0.3, diffusivity, 6e-3, 0.5)
    assert 100 * moisture == pytest.approx(percent, abs=1e-4)
    assert viscosity_loss_at_most(0.76, moisture, 7.5e-4, 0.68) == pytest.approx(loss, abs=5e-3)


def test_the_limit_of_pet_is_passed_after_minutes():
    def minutes(thickness_mm: float) -> int:
        diffusivity = diffusivity_at(23, 4e-13, 43)
        return next(
            minute
            for minute in range(1, 200)
            if moisture_at_most(5e-5, minute / 60, thickness_mm, diffusivity, 6e-3, 0.5) > 2e-4
        )

    # short times, Crank 1975: Fo = π·((w − w₀)/(2·(w_b − w₀)))² = 0.00203, t = Fo·l²/D
    assert minutes(0.3) == 3
    assert minutes(1.0) == 24


def test_a_bound_never_falls_below_the_start_nor_rises_above_balance():
    assert moisture_at_most(4e-3, 500, 0.3, 4e-13, 6e-3, 0.5) == 4e-3
    assert moisture_at_most(0.0, 1e5, 0.3, 4e-13, 6e-3, 1.0) == pytest.approx(6e-3)
    assert diffusivity_at(25, 4e-13, 43) == pytest.approx(4e-13)


@pytest.mark.parametrize(
    "wrong",
    [
        {"start": -1e-9},
        {"open_h": -1},
        {"thickness_mm": 0},
        {"diffusivity_m2_s": float("nan")},
        {"saturation": 1.1},
        {"humidity": -0.1},
    ],
)
def test_what_is_out_of_range_is_refused(wrong):
    good = {
        "start": 5e-5,
        "open_h": 1,
        "thickness_mm": 0.3,
        "diffusivity_m2_s": 4e-13,
        "saturation": 6e-3,
        "humidity": 0.5,
    }
    with pytest.raises(ValueError):
        moisture_at_most(**(good | wrong))
