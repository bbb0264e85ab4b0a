"""Logs from counters, samples and rated power."""

import numpy as np
import pytest

from recycling.calc.energy.intervals import energy_between
from recycling.calc.energy.logs import (
    meter_log,
    power_log,
    rated_energy_kwh,
    rated_log,
    unroll_counter,
)

S = 1_000_000
HOUR = 3600 * S


def test_rated_power_of_three_parts():
    """Closed form, power times duty times hours: 4.30 kWh, over 1.62 kg 2.654 kWh/kg."""
    kwh = sum(rated_energy_kwh(*part) for part in [(1.2, 0.45, 5), (0.8, 0.6, 2.5), (0.8, 1, 0.5)])
    assert kwh == pytest.approx(4.30, abs=1e-12)
    assert kwh / 1.62 == pytest.approx(2.654, abs=5e-4)


def test_rated_log_gives_the_same_as_the_formula():
    log = rated_log(
        [
            ("heaters", 1.2, 0.45, [(0, 5 * HOUR)]),
            ("motor", 0.8, 0.6, [(HOUR, 3 * HOUR), (3 * HOUR, 3 * HOUR + HOUR // 2)]),
            ("dryer", 0.8, 1, [(6 * HOUR, 6 * HOUR + HOUR // 2)]),
        ]
    )
    energy = energy_between(log, 0, 8 * HOUR)
    assert energy.kwh == pytest.approx(4.30, abs=1e-12)
    assert energy.covered_s == 5.5 * 3600
    assert energy.method == "rated power"


@pytest.mark.parametrize("rule", ["trapezoid", "step"])
def test_power_log_equals_reference_integration(rule):
    """Independent: scipy.integrate.trapezoid, and numpy.dot for the step rule."""
    from scipy.integrate import trapezoid

    rng = np.random.default_rng(3)
    at_us = np.cumsum(rng.integers(1, 120 * S, 5000))
    power_w = rng.uniform(0, 2500, 5000)
    log = power_log(at_us, power_w, max_gap_s=120, rule=rule)
    if rule == "trapezoid":
        expected = trapezoid(power_w, at_us / S) / 3.6e6
    else:
        expected = np.dot(power_w[:-1], np.diff(at_us) / S) / 3.6e6
    assert log.kwh[-1] == pytest.approx(expected, rel=1e-9)


def test_step_rule_holds_the_earlier_sample():
    log = power_log([0, HOUR, 2 * HOUR], [1000.0, 0.0, 500.0], max_gap_s=3600, rule="step")
    assert energy_between(log, 0, HOUR // 2).kwh == 0.5
    assert energy_between(log, 0, 2 * HOUR).kwh == 1.0


def test_gap_limit_itself_is_still_covered():
    assert power_log([0, 60 * S], [60.0, 60.0], max_gap_s=60).is_covered.all()
    assert not power_log([0, 60 * S + 1], [60.0, 60.0], max_gap_s=60).is_covered.any()


def test_counter_rolls_over_only_on_a_known_dial():
    assert unroll_counter([9.0, 9.5, 0.5], rollover_kwh=10).tolist() == [0.0, 0.5, 1.5]
    with pytest.raises(ValueError, match=r"reading 3 \(0.5 kWh\) is below the one before"):
        unroll_counter([9.0, 9.5, 0.5])


def test_fall_that_is_no_plausible_rollover_is_refused():
    with pytest.raises(ValueError, match="is below the one before"):
        unroll_counter([52.0, 51.0], rollover_kwh=100)


def test_confirmed_reset_counts_from_zero():
    assert unroll_counter([50.0, 52.0, 1.5, 2.0], resets=[2]).tolist() == [0.0, 2.0, 3.5, 4.0]
    assert unroll_counter([50.0, 60.0], resets=[1]).tolist() == [0.0, 60.0]


@pytest.mark.parametrize("position", [0, 2, -1])
def test_reset_must_be_at_a_reading_after_the_first(position):
    with pytest.raises(ValueError, match="outside 1 to 1"):
        unroll_counter([5.0, 1.0], resets=[position])


def test_reading_above_the_dial_is_refused():
    with pytest.raises(ValueError, match="not below the dial"):
        unroll_counter([5.0, 10.0], rollover_kwh=10)
    with pytest.raises(ValueError, match="rollover_kwh"):
        unroll_counter([5.0, 10.0], rollover_kwh=float("nan"))


def test_meter_runs_on_between_readings():
    log = meter_log([0, 2 * HOUR, 10 * HOUR], [100.0, 104.0, 108.0])
    energy = energy_between(log, HOUR, 6 * HOUR)
    assert energy.kwh == pytest.approx(4.0)
    assert energy.coverage == 1.0
    assert energy_between(log, 8 * HOUR, 12 * HOUR).coverage == 0.5


@pytest.mark.parametrize(
    ("at_us", "values", "message"),
    [
        ([0], [1.0], "at least two"),
        ([], [], "at least two"),
        ([0, 0], [1.0, 2.0], "2 is not later than"),
        ([0, 5, 4], [1.0, 2.0, 3.0], "3 is not later than"),
        ([0, 5], [1.0], "2 moments but 1"),
        ([0, 5], [1.0, -2.0], "2 is not a number from zero up"),
        ([0, 5], [float("nan"), 2.0], "1 is not a number from zero up"),
        ([0, 5], [1.0, float("inf")], "2 is not a number from zero up"),
        ([0.0, 5.0], [1.0, 2.0], "whole microseconds"),
    ],
)
def test_bad_samples_and_readings_are_named(at_us, values, message):
    with pytest.raises(ValueError, match=message):
        power_log(at_us, values, max_gap_s=60)
    with pytest.raises(ValueError, match=message):
        meter_log(at_us, values)


def test_rule_and_gap_limit_must_be_said():
    with pytest.raises(ValueError, match="trapezoid or step"):
        power_log([0, 1], [1.0, 1.0], max_gap_s=60, rule="spline")
    for limit in (0, -1, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="max_gap_s"):
            power_log([0, 1], [1.0, 1.0], max_gap_s=limit)


@pytest.mark.parametrize("part", [(-1, 0.5, 1), (1, 1.01, 1), (1, -0.1, 1), (1, 0.5, float("inf"))])
def test_impossible_ratings_are_refused(part):
    with pytest.raises(ValueError):
        rated_energy_kwh(*part)


def test_logged_times_of_one_part_may_not_overlap():
    with pytest.raises(ValueError, match="two logged times of fan overlap"):
        rated_log([("fan", 1, 1, [(0, 10), (9, 20)])])
    with pytest.raises(ValueError, match="two logged times of fan overlap"):
        rated_log([("fan", 1, 1, [(0, 10)]), ("fan", 1, 1, [(5, 20)])])
    with pytest.raises(ValueError, match="no logged time"):
        rated_log([("fan", 1, 1, [])])
    with pytest.raises(ValueError, match="a logged time of fan is not after"):
        rated_log([("fan", 1, 1, [(10, 10)])])
