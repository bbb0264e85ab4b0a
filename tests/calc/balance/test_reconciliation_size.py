"""Reconciliation of books as large as a workshop's years."""

import numpy as np
import pytest

from recycling.calc.balance.flow_network import flow_network
from recycling.calc.balance.reconciliation import reconcile


def test_slip_that_hides_in_a_large_global_test_is_flagged():
    network, true, u = workshop_network(20_000)
    y = true + np.random.default_rng(3).normal(0, u)
    y[10_000] += 12 * u[10_000]
    found = reconcile(network, y, u)
    assert found.suspects == ()
    assert 10_000 in found.flagged[:3]


@pytest.mark.slow
def test_hundred_thousand_flows():
    network, true, u = workshop_network(100_000)
    rng = np.random.default_rng(2)
    y = true + rng.normal(0, u)
    wrong = [1_000, 50_000, 90_000]
    y[wrong] += 200 * u[wrong]
    found = reconcile(network, y, u, level=1e-6)
    assert set(wrong) <= {flow for suspect in found.suspects for flow in suspect.tied}
    gain = np.zeros(network.balances + 1, dtype=np.int64)
    np.add.at(gain, network.ends[1], found.final.whole_mg)
    np.subtract.at(gain, network.ends[0], found.final.whole_mg)
    assert not gain[:-1].any()


def workshop_network(flows: int):
    """Runs that draw on two recent lots and give a lot, a loss and a rest that is counted."""
    rng = np.random.default_rng(0)
    runs = flows // 5
    source, target, true = [], [], []
    for run in range(runs):
        lot, kept = 2 * run + 1, 2 * run
        parents = rng.integers(max(0, run - 40), run, 2) if run else [-1, -1]
        for parent in parents:
            source.append(2 * int(parent) + 1 if run else -1)
            target.append(kept)
            true.append(1e6)
        source += [kept, kept, lot]
        target += [lot, -1, -1]
        true += [1.8e6, 0.2e6, 0.0]
    network = flow_network(source, target)
    true = np.array(true)
    drawn = np.bincount(network.ends[0], true, network.balances + 1)
    lots = np.arange(runs) * 5 + 4
    true[lots] = 1.8e6 - drawn[2 * np.arange(runs) + 1]
    return network, true, np.full(len(true), 2_000.0)
