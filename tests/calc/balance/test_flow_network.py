"""Networks of flows: refusals, contraction, walks, whole milligrams."""

import numpy as np
import pytest

from recycling.calc.balance.flow_network import (
    completed,
    contracted,
    flow_network,
    forest,
    whole_flows,
)


@pytest.mark.parametrize(
    ("source", "target", "message"),
    [
        ([], [], "no flows"),
        ([0], [0, 1], "1 sources but 2 targets"),
        ([0, 1], [-1, 1], "flow 1 enters what it leaves"),
        ([-1], [-1], "flow 0 enters what it leaves"),
        ([0.5], [1.0], "whole numbers"),
        ([-2], [0], "below -1"),
    ],
)
def test_impossible_networks_are_named(source, target, message):
    with pytest.raises(ValueError, match=message):
        flow_network(np.array(source), np.array(target))


@pytest.mark.parametrize("seed", range(10))
def test_equations_left_are_the_rank_of_what_can_be_tested(seed):
    """Independent: rank of the balances projected off the unmeasured flows, numpy."""
    from scipy.linalg import null_space

    rng = np.random.default_rng(seed)
    source, target = rng.integers(-1, 12, (2, 25))
    keep = source != target
    network = flow_network(source[keep], target[keep])
    a = np.zeros((network.balances + 1, keep.sum()))
    flows = np.arange(keep.sum())
    a[network.ends[1], flows], a[network.ends[0], flows] = 1, -1
    a = a[:-1]
    used = np.ones(keep.sum(), dtype=bool)
    used[:5] = False
    if np.linalg.matrix_rank(a[:, ~used]) < 5:
        with pytest.raises(ValueError, match="form a loop"):
            contracted(network, used)
    else:
        off = null_space(a[:, ~used].T).T
        assert contracted(network, used).equations == np.linalg.matrix_rank(off @ a[:, used])


def test_walk_reaches_every_balance_after_its_parent():
    rng = np.random.default_rng(4)
    source, target = rng.integers(-1, 50, (2, 120))
    keep = source != target
    network = flow_network(source[keep], target[keep])
    for deep in (False, True):
        order, parent, by = forest(network, np.arange(keep.sum()), deep=deep)
        assert sorted(order.tolist()) == list(range(network.balances + 1))
        place = np.argsort(order)
        child = np.flatnonzero(by >= 0)
        assert (place[parent[child]] < place[child]).all()
        ends = np.stack(network.ends)[:, by[child]]
        assert (np.sort(ends, axis=0) == np.sort(np.stack((child, parent[child])), axis=0)).all()


def test_rounding_keeps_flows_that_are_whole_already():
    network = flow_network([-1, 0, 0, 1], [0, 1, -1, -1])
    assert whole_flows(network, np.array([7.0, 4.0, 3.0, 4.0])).tolist() == [7, 4, 3, 4]


def test_rounding_at_the_largest_masses_is_exact():
    network = flow_network([-1, -1, 0], [0, 0, -1])
    rounded = whole_flows(network, np.array([1e12 + 0.5, 1e12 + 0.5, 2e12 + 1]))
    assert rounded[0] + rounded[1] == rounded[2]


def test_rounding_needs_numbers():
    network = flow_network([-1, 0], [0, -1])
    with pytest.raises(ValueError, match="not a finite number"):
        whole_flows(network, np.array([1.0, float("nan")]))
    with pytest.raises(ValueError, match="1 values for 2 flows"):
        completed(network, np.array([1]), *forest(network, np.array([0])))
