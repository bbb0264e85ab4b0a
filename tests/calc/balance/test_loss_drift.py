"""Losses that creep: an average that a band which learns does not swallow."""

import random

import pytest

from recycling.calc.balance.loss_drift import Judged, drift, ewma
from recycling.calc.balance.usual_loss import Past, band, first_for, learn


def test_ewma_agrees_with_the_handbook():
    # NIST/SEMATECH e-Handbook, 6.3.2.4: target 50, λ = 0.3; the first seven values of its example
    values = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0]
    expected = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75]
    found = [50 + ewma([one - 50 for one in values[:n]], 0.3) for n in range(1, 8)]
    assert found == pytest.approx(expected, abs=0.006)


def judged(shares, seed=1):
    """Runs of one machine, each with the band that those before it teach."""
    chance, past, found = random.Random(seed), [], []
    for share in shares:
        x = chance.uniform(1e6, 4e6)
        r = share * x * chance.gammavariate(6, 1 / 6)
        usual = band(learn(past, "A", "", first_for("sort")), x, 500.0)
        found.append(Judged(x, r, usual.mean_mg, usual.sd_mg))
        past.append(Past(x, r, 0.0, "A"))
    return found


def test_a_machine_that_loses_twice_as_much_is_seen_though_the_band_learns():
    seen = 0
    for seed in range(20):
        runs = judged([0.015] * 40 + [0.033] * 10, seed)
        found = drift(runs)
        seen += found is not None and found.now > 1.3 * found.before
    assert seen >= 15


def test_steady_machines_are_left_alone():
    assert sum(drift(judged([0.02] * 40, seed)) is not None for seed in range(40)) <= 2


def test_few_runs_say_nothing():
    assert drift(judged([0.3] * 7)) is None
