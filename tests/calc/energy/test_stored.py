"""Stored logs, the log that is trusted, sessions and phases, held to closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from recycling.calc.energy.intervals import METER, POWER, RATED, energy_between
from recycling.calc.energy.stored import joined_log, named_phases, sessions, stored_log, trusted_log

HOUR = 3_600_000_000


def log(start: int, end: int, kwh: float, method: str = POWER):
    return stored_log([start, end], [0.0, kwh], [0, end - start], method)


@pytest.mark.parametrize("seed", range(10))
def test_a_stored_log_is_exact_at_its_points(seed):
    """Closed form: between points of a running sum the energy is their difference."""
    rng = np.random.default_rng(seed)
    at_us = np.cumsum(rng.integers(2, HOUR, 20))
    kwh = np.cumsum(rng.uniform(0, 2, 20))
    covered = np.concatenate(([0], np.cumsum(rng.integers(0, np.diff(at_us) + 1))))
    kwh[1:] = kwh[0] + np.cumsum(np.where(np.diff(covered) > 0, np.diff(kwh), 0.0))
    whole = stored_log(at_us, kwh, covered, POWER)
    first, last = sorted(rng.choice(20, 2, replace=False))
    part = energy_between(whole, int(at_us[first]), int(at_us[last]))
    assert part.kwh == pytest.approx(kwh[last] - kwh[first])
    assert part.covered_s == pytest.approx((covered[last] - covered[first]) / 1e6)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (([0], [0.0], [0]), "points"),
        (([0, 1], [0.0], [0, 1]), "2 moments"),
        (([1, 1], [0.0, 1.0], [0, 0]), "increase"),
    ],
)
def test_bad_points_are_refused(points, says):
    with pytest.raises(ValueError, match=says):
        stored_log(*points, POWER)


def test_logs_that_overlap_or_differ_are_not_joined():
    with pytest.raises(ValueError, match="twice"):
        joined_log([log(0, 2 * HOUR, 1), log(HOUR, 3 * HOUR, 1)])
    with pytest.raises(ValueError, match="not one log"):
        joined_log([log(0, HOUR, 1), log(HOUR, 2 * HOUR, 1, METER)])
    with pytest.raises(ValueError, match="no log"):
        joined_log([])


def test_trust_goes_to_the_meter_then_to_power_then_to_ratings():
    meter, power, rated = (log(0, HOUR, kwh, m) for kwh, m in ((1, METER), (2, POWER), (3, RATED)))
    assert trusted_log([rated, power, meter], 0, HOUR) is meter
    assert trusted_log([rated, power], 0, HOUR) is power
    assert trusted_log([rated], 0, HOUR) is rated
    assert trusted_log([rated], 2 * HOUR, 3 * HOUR) is None


def test_of_one_method_the_log_that_covers_most_is_taken():
    short, long = log(0, HOUR, 1), log(0, 2 * HOUR, 1)
    assert trusted_log([short, long], 0, 2 * HOUR) is long


def test_a_meter_read_far_around_a_short_run_comes_last():
    day, power = log(0, 24 * HOUR, 9, METER), log(0, HOUR, 1)
    assert trusted_log([day, power], 0, HOUR) is power
    assert trusted_log([day], 0, HOUR) is day


@pytest.mark.parametrize("seed", range(10))
def test_sessions_are_the_connected_pieces_of_work(seed):
    """Brute force: two pieces hang together when a chain of pieces within the gap links them."""
    rng = np.random.default_rng(seed)
    starts = rng.integers(0, 400, 12)
    work = [(key, (int(a), int(a + rng.integers(0, 20)))) for key, a in enumerate(starts)]
    group = {key: key for key, _ in work}
    for _ in work:
        for one, (a, b) in work:
            for other, (c, d) in work:
                if max(a, c) - min(b, d) <= 5:
                    group[one] = group[other] = min(group[one], group[other])
    wanted = {frozenset(k for k in group if group[k] == one) for one in group.values()}
    assert {frozenset(one.keys) for one in sessions(work, 5)} == wanted


def test_what_nobody_named_before_the_first_run_is_warm_up():
    assert named_phases((0, 9), [(4, 6), (2, 9)], []) == [("warm-up", (0, 2))]
    assert named_phases((0, 9), [(0, 9)], [("purge", (8, 9))]) == [("purge", (8, 9))]
    with pytest.raises(ValueError, match="runs"):
        named_phases((0, 9), [], [])
