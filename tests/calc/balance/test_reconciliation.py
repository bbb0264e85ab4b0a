"""Reconciliation against a published example, dense algebra and refits from scratch."""

import json

import numpy as np
import pytest

from recycling.calc.balance.flow_fit import checked_weighings, fit_flows, fit_used
from recycling.calc.balance.flow_network import flow_network
from recycling.calc.balance.reconciliation import reconcile, sidak_limit
from tests.checked import check_text

NAN = float("nan")


def example(number: int):
    """Narasimhan and Jordache (2000), chapter 1: heat exchanger with bypass, six streams."""
    case = json.loads(check_text("reconciliation.json"))[number]
    balances = np.array(case["inputs"]["A"])
    leaves = [int(np.argmin(c)) if c.min() < 0 else -1 for c in balances.T]
    enters = [int(np.argmax(c)) if c.max() > 0 else -1 for c in balances.T]
    y, u = case["inputs"]["y"], np.sqrt(case["inputs"]["var"])
    return flow_network(leaves, enters), y, u, case["expected"]


def matrix(network) -> np.ndarray:
    dense = np.zeros((network.balances + 1, len(network.source)))
    flows = np.arange(len(network.source))
    tail, head = network.ends
    dense[head, flows] += 1
    dense[tail, flows] -= 1
    return dense[:-1]


def random_network(seed: int, balances: int = 30, flows: int = 70):
    """A connected network with border flows, true flows that balance, and weighings."""
    rng = np.random.default_rng(seed)
    source = np.concatenate(
        (rng.integers(-1, np.arange(balances)), rng.integers(-1, balances, flows))
    )
    target = np.concatenate((np.arange(balances), rng.integers(-1, balances, flows)))
    keep = source != target
    network = flow_network(source[keep], target[keep])
    a = matrix(network)
    true = rng.uniform(1e3, 1e5, a.shape[1])
    true = true - a.T @ np.linalg.pinv(a @ a.T) @ (a @ true)
    u = rng.uniform(5, 50, len(true))
    return network, a, true, u, rng


def dense_fit(a, y, u, used):
    """Independent: weighted least squares over the null space of all balances (numpy, scipy)."""
    from scipy.linalg import null_space

    basis = null_space(a)
    weighted = basis[used] / u[used, None]
    solution, *_ = np.linalg.lstsq(weighted, y[used] / u[used], rcond=None)
    x = basis @ solution
    cov = basis @ np.linalg.pinv(weighted.T @ weighted) @ basis.T
    gamma = float((((y - x) / u)[used] ** 2).sum())
    return x, np.sqrt(np.diag(cov).clip(0)), gamma


def test_bypass_example_is_reconciled_as_published():
    network, y, u, expected = example(0)
    found = reconcile(network, y, u)
    assert found.first.reconciled_mg == pytest.approx(expected["x"], abs=1e-9)
    assert found.first.gamma == pytest.approx(expected["gamma"], abs=1e-9)
    assert found.first.dof == expected["dof"]
    assert found.first.limit() == pytest.approx(expected["chi2_95"], abs=5e-7)
    assert found.z == pytest.approx(expected["z"], abs=5e-7)
    assert found.suspects == ()
    assert found.first.passes() is True
    assert found.has_ended


def test_gross_error_is_found_and_set_aside():
    network, y, u, expected = example(1)
    full, rest = expected["full"], expected["drop2"]
    found = reconcile(network, y, u)
    assert found.first.reconciled_mg == pytest.approx(full["x"], abs=5e-7)
    assert found.first.gamma == pytest.approx(full["gamma"], abs=5e-7)
    assert found.z == pytest.approx(full["z"], abs=5e-7)
    assert found.z_limit == pytest.approx(expected["sidak_z_n6"], abs=5e-7)
    (suspect,) = found.suspects
    assert (suspect.flow, suspect.tied) == (1, (1,))
    assert suspect.z == pytest.approx(full["z"][1], abs=5e-7)
    others = [0, 2, 3, 4, 5]
    assert found.final.reconciled_mg[others] == pytest.approx(rest["x"], abs=1e-9)
    assert (found.final.gamma, found.final.dof) == (pytest.approx(rest["gamma"]), rest["dof"])
    assert found.final.limit() == pytest.approx(rest["chi2_95"], abs=5e-7)
    again = reconcile(network, np.where(np.arange(6) == 1, NAN, y), u)
    assert again.z[others] == pytest.approx(rest["z"], abs=5e-7)
    assert np.isnan(again.z[1])


@pytest.mark.parametrize("seed", range(6))
def test_fit_equals_dense_least_squares(seed):
    network, a, true, u, rng = random_network(seed)
    y = true + rng.normal(0, u)
    y[rng.choice(30, 12, replace=False)] = NAN  # of the tree that the network starts with
    used = ~np.isnan(y)
    found = reconcile(network, y, u, most_set_aside=0)
    x, spread, gamma = dense_fit(a, y, u, used)
    assert found.final.reconciled_mg == pytest.approx(x, rel=1e-7, abs=1e-5)
    assert found.u_reconciled_mg == pytest.approx(spread, rel=1e-6, abs=1e-6)
    assert found.final.gamma == pytest.approx(gamma, rel=1e-7, abs=1e-7)
    assert found.final.dof == len(used) - 12 - (a.shape[1] - np.linalg.matrix_rank(a))


@pytest.mark.parametrize("seed", range(4))
def test_measurement_tests_equal_dense_algebra(seed):
    """Independent: z from the full matrices of the formula, numpy."""
    network, a, true, u, rng = random_network(seed)
    y = true + rng.normal(0, u)
    sigma = np.diag(u**2)
    inverse = np.linalg.inv(a @ sigma @ a.T)
    w = sigma @ a.T @ inverse @ a @ sigma
    d = sigma @ a.T @ inverse @ (a @ y)
    found = reconcile(network, y, u)
    checked = np.diag(w) > 1e-6 * u**2
    assert found.z[checked] == pytest.approx((np.abs(d) / np.sqrt(np.diag(w)))[checked], rel=1e-6)
    assert np.isnan(found.z[~checked]).all()


@pytest.mark.parametrize("seed", range(4))
def test_setting_aside_one_by_one_equals_fitting_again_each_time(seed):
    network, a, true, u, rng = random_network(seed, flows=140)
    y = true + rng.normal(0, u)
    wrong = rng.choice(np.flatnonzero(network.source >= 0), 4, replace=False)
    y[wrong] += 40 * u[wrong]
    found = reconcile(network, y, u)
    assert found.suspects
    left = y.copy()
    for suspect in found.suspects:
        step = reconcile(network, left, u, most_set_aside=0)
        assert not step.has_ended
        assert (suspect.gamma, suspect.dof) == (pytest.approx(step.final.gamma), step.final.dof)
        assert suspect.z == pytest.approx(np.nanmax(step.z))
        assert step.z[suspect.flow] == pytest.approx(np.nanmax(step.z))
        assert suspect.z_limit == pytest.approx(step.z_limit)
        left[suspect.flow] = NAN
    assert reconcile(network, left, u).suspects == ()


@pytest.mark.parametrize("seed", range(12))
def test_single_slip_is_the_first_suspect(seed):
    network, _, true, u, rng = random_network(seed, flows=140)
    y = true + rng.normal(0, u)
    wrong = int(np.flatnonzero(network.source >= 0)[seed])
    y[wrong] += 40 * u[wrong]
    found = reconcile(network, y, u)
    assert wrong in found.suspects[0].tied
    assert found.suspects[0].z > found.suspects[0].z_limit


def test_weighings_that_cannot_be_told_apart_are_named_together():
    chain = flow_network([-1, 0], [0, -1])
    found = reconcile(chain, [1000.0, 1100.0], [10.0, 20.0])
    (suspect,) = found.suspects
    assert sorted(suspect.tied) == [0, 1]
    assert suspect.z == pytest.approx(100 / np.hypot(10, 20))
    assert found.final.dof == 0
    assert found.final.passes() is None
    assert found.has_ended


@pytest.mark.parametrize("seed", range(5))
def test_whole_milligrams_balance_exactly(seed):
    network, a, true, u, rng = random_network(seed, balances=200, flows=600)
    fit = fit_flows(network, true * 1e6 + rng.normal(0, u * 1e4), u * 1e4)
    assert fit.whole_mg.dtype == np.int64
    assert not (a.astype(np.int64) @ fit.whole_mg).any()
    assert np.abs(fit.whole_mg - fit.reconciled_mg).max() < 200


def test_without_redundancy_nothing_is_tested_and_nothing_changed():
    split = flow_network([-1, 0, 0], [0, -1, -1])
    found = reconcile(split, [100.0, 60.0, NAN], [1.0, 2.0, NAN])
    assert found.first.dof == 0
    assert found.first.passes() is None
    assert np.isnan([found.first.p_value, found.first.limit(), found.z_limit]).all()
    assert np.isnan(found.z).all()
    assert found.final.whole_mg.tolist() == [100, 60, 40]
    assert found.u_reconciled_mg == pytest.approx([1, 2, 5**0.5])


def test_run_without_a_closing_weight_is_computed_from_its_balance():
    network = flow_network([-1, -1, 0, 1, 1], [0, 0, 1, -1, -1])
    found = reconcile(network, [40.0, 60.0, 99.0, 70.0, NAN], [1.0] * 5)
    assert found.final.reconciled_mg == pytest.approx(
        [40 - 1 / 3, 60 - 1 / 3, 99 + 1 / 3, 70, 29 + 1 / 3]
    )
    assert found.first.dof == 1


def test_balances_that_follow_from_others_do_no_harm():
    """A closed loop: two balances, of which one follows from the other."""
    found = reconcile(flow_network([0, 1], [1, 0]), [10.0, 12.0], [1.0, 1.0])
    assert found.first.dof == 1
    assert found.first.whole_mg.tolist() == [11, 11]
    assert found.first.gamma == pytest.approx(2.0)


def test_unmeasured_loop_is_named():
    network = flow_network([-1, 0, 0, 1, -1], [0, 1, 1, -1, 0])
    with pytest.raises(ValueError, match="unmeasured flows 1, 2 form a loop"):
        fit_flows(network, [5.0, NAN, NAN, 5.0, NAN], [1.0] * 5)
    chain = flow_network([0, 1, 2, 2, -1], [1, 2, 3, 3, 0])
    with pytest.raises(ValueError, match="unmeasured flows 2, 3 form a loop"):
        fit_flows(chain, [NAN, NAN, NAN, NAN, 5.0], [1.0] * 5)
    with pytest.raises(ValueError, match="unmeasured flows 0, 4 form a loop"):
        fit_flows(network, [NAN, 1.0, NAN, 5.0, NAN], [1.0] * 5)


@pytest.mark.parametrize(
    ("y", "u", "message"),
    [
        ([1.0, 2.0], [1.0, 0.0], "uncertainty of flow 1 must be above zero"),
        ([1.0, 2.0], [-1.0, 1.0], "uncertainty of flow 0"),
        ([1.0, 2.0], [NAN, 1.0], "uncertainty of flow 0"),
        ([1.0, float("inf")], [1.0, 1.0], "mass of flow 1 is infinite"),
        ([1.0], [1.0, 1.0], "2 flows, 1 masses and 2 uncertainties"),
    ],
)
def test_bad_weighings_are_named(y, u, message):
    network = flow_network([-1, 0], [0, -1])
    for refused in (fit_flows, reconcile, checked_weighings):
        with pytest.raises(ValueError, match=message):
            refused(network, y, u)


def test_level_is_a_share():
    with pytest.raises(ValueError, match="level"):
        reconcile(flow_network([-1, 0], [0, -1]), [1.0, 1.0], [1.0, 1.0], level=5)
    with pytest.raises(ValueError, match="at least one test"):
        sidak_limit(0)


@pytest.mark.slow
def test_global_test_rejects_as_often_as_its_level_says():
    """Chi-squared of the global test: 5 % of correct books are rejected (2,000 draws, ±4 sigma)."""
    network, _, true, u, rng = random_network(1, balances=8, flows=14)
    fits = [fit_flows(network, true + rng.normal(0, u), u) for _ in range(2000)]
    rejected = sum(fit.gamma > fits[0].limit() for fit in fits) / len(fits)
    assert abs(rejected - 0.05) < 4 * (0.05 * 0.95 / 2000) ** 0.5


def test_part_of_the_weighings_can_be_left_out():
    network = flow_network([-1, 0], [0, -1])
    fit, equations = fit_used(network, np.array([4.0, 6.0]), np.ones(2), np.array([True, False]))
    assert (fit.whole_mg.tolist(), equations) == ([4, 4], None)


def test_computed_flows_have_the_same_uncertainty_however_they_are_worked_out(monkeypatch):
    """A lot that is taken whole is as sure as it was when it was made; a bound is no less."""
    from recycling.calc.balance import reconciliation as module

    network = flow_network([-1, 0, 1, 1, 3, 2], [0, 1, 2, 3, -1, -1])
    masses = [1_000.0, float("nan"), 600.0, 399.0, float("nan"), 601.0]
    full = reconcile(network, masses, [2.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    assert full.u_reconciled_mg[1] == pytest.approx(full.u_reconciled_mg[0])
    assert full.u_reconciled_mg[4] == pytest.approx(full.u_reconciled_mg[3])
    monkeypatch.setattr(module, "MOST_SOLVED", 0)
    bound = reconcile(network, masses, [2.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    assert (bound.u_reconciled_mg >= full.u_reconciled_mg - 1e-9).all()
