"""Order of trust, gaps handed down only when asked, bounds of a meter."""

import numpy as np
import pytest

from recycling.calc.energy.intervals import energy_between
from recycling.calc.energy.logs import meter_log, power_log, rated_log
from recycling.calc.energy.trust import meter_bounds_kwh, trusted_energy, uncovered_spans

S = 1_000_000
HOUR = 3600 * S


@pytest.fixture
def logs():
    return {
        "meter": meter_log([0, HOUR], [7.0, 8.0]),
        "power": power_log([HOUR, 2 * HOUR, 4 * HOUR], [500.0] * 3, max_gap_s=3600),
        "rated": rated_log([("heater", 1.0, 0.25, [(0, 3 * HOUR)])]),
    }


def test_most_trusted_log_alone_answers_and_says_what_it_covers(logs):
    found = trusted_energy([logs["rated"], logs["power"], logs["meter"]], 0, 4 * HOUR)
    assert [part.method for part in found.parts] == ["meter reading"]
    assert (found.kwh, found.coverage) == (1.0, 0.25)


def test_gaps_are_filled_in_order_of_trust_when_asked(logs):
    found = trusted_energy(list(logs.values())[::-1], 0, 4 * HOUR, fill_gaps=True)
    assert [(part.method, part.kwh) for part in found.parts] == [
        ("meter reading", 1.0),
        ("power log", 0.5),
        ("rated power", 0.25),
    ]
    assert found.coverage == 0.75


def test_log_that_covers_nothing_gives_way(logs):
    found = trusted_energy([logs["meter"], logs["power"]], HOUR, 2 * HOUR)
    assert [part.method for part in found.parts] == ["power log"]
    assert trusted_energy([], 0, HOUR).parts == ()
    assert trusted_energy([logs["meter"]], 5 * HOUR, 6 * HOUR).coverage == 0.0


def test_two_logs_of_one_method_are_refused(logs):
    with pytest.raises(ValueError, match="two logs of the same method"):
        trusted_energy([logs["meter"], logs["meter"]], 0, HOUR)
    with pytest.raises(ValueError, match="not after its start"):
        trusted_energy([logs["meter"]], HOUR, 0)


def test_uncovered_and_covered_time_make_up_the_interval():
    rng = np.random.default_rng(5)
    at_us = np.cumsum(rng.integers(1, 100, 200)) * S
    log = power_log(at_us, np.ones(200), max_gap_s=50)
    for start, end in np.sort(rng.integers(0, at_us[-1] + 500 * S, (50, 2)), axis=1).tolist():
        gaps = uncovered_spans(log, start, end)
        assert all(a[1] < b[0] for a, b in zip(gaps, gaps[1:], strict=False))
        missing_s = sum(b - a for a, b in gaps) / S
        assert energy_between(log, start, end).covered_s + missing_s == pytest.approx(
            (end - start) / S, abs=1e-6
        )


def test_bounds_hold_the_even_spread():
    log = meter_log([0, HOUR, 2 * HOUR, 3 * HOUR], [0.0, 1.0, 5.0, 6.0])
    least, most = meter_bounds_kwh(log, HOUR // 2, 2 * HOUR + 1)
    assert (least, most) == (4.0, 6.0)
    assert least <= energy_between(log, HOUR // 2, 2 * HOUR + 1).kwh <= most
    assert meter_bounds_kwh(log, HOUR, 2 * HOUR) == (4.0, 4.0)


def test_bounds_need_a_meter(logs):
    with pytest.raises(ValueError, match="bounds need a meter reading, not a power log"):
        meter_bounds_kwh(logs["power"], 0, HOUR)
