"""Energy of an interval: overlap, coverage, moments."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from recycling.calc.energy.intervals import (
    Energy,
    accumulated_at,
    energy_between,
    epoch_us,
    require_span,
)
from recycling.calc.energy.logs import power_log

S = 1_000_000
HOUR = 3600 * S


def test_epoch_equals_posix_time():
    """Independent: datetime.timestamp of the standard library, POSIX seconds."""
    moment = datetime(2025, 3, 30, 3, 30, 0, 250_000, tzinfo=ZoneInfo("Europe/Berlin"))
    assert epoch_us(moment) == 1_743_298_200_250_000 == round(moment.timestamp() * S)


def test_epoch_is_the_same_in_any_zone():
    moment = datetime(2025, 10, 26, 0, 30, tzinfo=UTC)
    there = moment.astimezone(timezone(timedelta(hours=-7)))
    assert epoch_us(moment) == epoch_us(there)


def test_epoch_keeps_both_passes_of_a_repeated_hour_apart():
    zone = ZoneInfo("Europe/Berlin")
    first = datetime(2025, 10, 26, 2, 30, tzinfo=zone)
    second = first.replace(fold=1)
    assert epoch_us(second) - epoch_us(first) == HOUR


def test_epoch_refuses_a_wall_clock():
    with pytest.raises(ValueError, match="no UTC offset"):
        epoch_us(datetime(2025, 1, 1))


def test_interval_cut_inside_segments_equals_numerical_integration():
    """Independent: scipy.integrate.quad on numpy.interp of the same samples."""
    from scipy.integrate import quad

    rng = np.random.default_rng(7)
    at_us = np.cumsum(rng.integers(1, 90, 40)) * S
    power_w = rng.uniform(0, 3000, 40)
    log = power_log(at_us, power_w, max_gap_s=100)
    for start, end in rng.integers(at_us[0], at_us[-1], (20, 2)):
        start, end = sorted((int(start), int(end)))
        inside = at_us[(at_us > start) & (at_us < end)] / S
        joules, _ = quad(
            lambda t: np.interp(t, at_us / S, power_w),
            start / S,
            end / S,
            points=inside,
            limit=200,
        )
        assert energy_between(log, start, end).kwh == pytest.approx(joules / 3.6e6, rel=1e-9)


def test_neighbouring_intervals_add_up():
    log = power_log([0, 10 * S, 70 * S], [100.0, 900.0, 300.0], max_gap_s=60)
    cuts = [0, 3 * S, 10 * S, 41 * S, 70 * S]
    pieces = [energy_between(log, a, b).kwh for a, b in zip(cuts, cuts[1:], strict=False)]
    assert sum(pieces) == pytest.approx(energy_between(log, 0, 70 * S).kwh, rel=1e-12)


def test_gap_carries_no_energy_and_no_cover():
    log = power_log([0, HOUR, 3 * HOUR, 4 * HOUR], [1000.0] * 4, max_gap_s=3600)
    assert energy_between(log, 0, 4 * HOUR) == Energy(2.0, 7200.0, 14400.0, "power log")
    assert energy_between(log, HOUR, 3 * HOUR).kwh == 0.0
    assert energy_between(log, 0, 4 * HOUR).coverage == 0.5


def test_interval_outside_the_log_is_not_covered():
    log = power_log([HOUR, 2 * HOUR], [1000.0, 1000.0], max_gap_s=3600)
    assert energy_between(log, 5 * HOUR, 6 * HOUR).coverage == 0.0
    assert energy_between(log, 0, 4 * HOUR).coverage == 0.25
    kwh, covered_us = accumulated_at(log, [-HOUR, 9 * HOUR])
    assert kwh.tolist() == [0.0, 1.0]
    assert covered_us.tolist() == [0, HOUR]


def test_moments_must_be_whole_microseconds():
    log = power_log([0, HOUR], [1.0, 1.0], max_gap_s=3600)
    with pytest.raises(ValueError, match="whole microseconds"):
        accumulated_at(log, [0.5])


@pytest.mark.parametrize(("start", "end"), [(5, 5), (6, 5)])
def test_interval_must_run_forward(start, end):
    log = power_log([0, HOUR], [1.0, 1.0], max_gap_s=3600)
    with pytest.raises(ValueError, match="not after its start"):
        energy_between(log, start, end)
    with pytest.raises(ValueError, match="the end of a shift is not after"):
        require_span(start, end, "a shift")


def test_stored_points_give_back_the_energy_of_the_log():
    rng = np.random.default_rng(9)
    at_us = np.cumsum(rng.integers(1, 90, 400)) * S
    log = power_log(at_us, rng.uniform(0, 3000, 400), max_gap_s=60)
    points = np.unique(np.concatenate((at_us, np.arange(at_us[0], at_us[-1], 10 * S))))
    kwh, covered_us = accumulated_at(log, points)
    for start, end in np.sort(rng.choice(points, (30, 2), replace=False), axis=1).tolist():
        first, last = np.searchsorted(points, [start, end])
        exact = energy_between(log, start, end)
        assert kwh[last] - kwh[first] == pytest.approx(exact.kwh, abs=1e-12)
        covered_s = (covered_us[last] - covered_us[first]) / S
        assert covered_s == pytest.approx(exact.covered_s, abs=1e-6)
