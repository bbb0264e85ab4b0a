"""The noisy-OR against a textbook table, and its integration against a general library's."""

import numpy as np
import pytest

from recycling.calc.suspects.noisy_or import bad_chance, between_nodes, exposure_nodes, weigh_causes
from recycling.calc.suspects.priors import SuspectPriors


def evidence_of(exposure, bad, priors=None):
    exposure, bad = np.asarray(exposure, dtype=float), np.asarray(bad, dtype=bool)
    held = exposure > 0
    line = np.zeros(int(held.sum()), dtype=int)
    counts = 1, int(bad.sum()), int((~bad).sum())
    return weigh_causes(line, exposure[held], bad[held], *counts, priors or SuspectPriors())


def integral(exposure, bad, priors, also=lambda b, theta: 1.0):
    """Integrate the likelihood, times another function, by scipy's rule for Beta weights."""
    from scipy.special import roots_jacobi

    def points(alpha, beta):
        at, weight = roots_jacobi(240, beta - 1, alpha - 1)
        return (at + 1) / 2, weight / weight.sum()

    b, b_weight = points(priors.background_alpha, priors.background_beta)
    theta, theta_weight = points(priors.spoil_alpha, priors.spoil_beta)
    b = b[:, None]
    likelihood = np.ones((240, 240))
    for e, is_bad in zip(exposure, bad, strict=True):
        chance = 1 - (1 - b) * (1 - theta) ** e
        likelihood *= chance if is_bad else 1 - chance
    return b_weight @ (likelihood * also(b, theta)) @ theta_weight


def test_fever_table(independent_check):
    # Russell and Norvig, Artificial Intelligence: A Modern Approach, figure 14.10: inhibitors
    # 0.6, 0.2 and 0.1 for cold, flu and malaria.
    check = independent_check(12)
    names = list(check["inputs"])
    spoil = [1 - check["inputs"][name] for name in names]
    for present, expected in check["expected"].items():
        exposure = [float(name in present.split(",")) for name in names]
        assert bad_chance(0.0, spoil, exposure) == pytest.approx(expected)


def test_background_and_exposure_in_the_noisy_or():
    assert bad_chance(0.03, [0.8], [0.0]) == pytest.approx(0.03)
    assert bad_chance(0.03, [0.8], [0.5]) == pytest.approx(1 - 0.97 * 0.2**0.5)


@pytest.mark.parametrize(
    ("exposure", "bad"),
    [
        ([0.5, 0.9, 0.4, 0], [0, 0, 0, 0]),  # only good spools, and none exposed in whole
        ([0.5, 0.9, 0.4, 0], [0, 0, 0, 1]),  # the bad one not exposed at all
        ([1, 1, 0, 0], [1, 1, 0, 0]),
        ([1, 1, 1, 1], [1, 1, 1, 1]),
        ([0.5, 0.01, 0.2, 0, 0, 0], [1, 1, 0, 0, 1, 0]),
        ([0.003, 0.07, 1, 0.9, 0.4, 0, 0, 0, 0], [1, 0, 1, 1, 1, 0, 0, 0, 0]),
        ([1, 1, 1, 0, 0], [0, 0, 0, 1, 1]),
    ],
)
@pytest.mark.parametrize(
    "priors", [SuspectPriors(), SuspectPriors(0.5, 1, 19, 1, 1), SuspectPriors(0.5, 3, 8, 0.5, 2)]
)
def test_integration_equals_scipy(exposure, bad, priors):
    exposure, bad = np.array(exposure, dtype=float), np.array(bad, dtype=bool)
    evidence = evidence_of(exposure, bad, priors)
    cause, none = integral(exposure, bad, priors), integral(exposure * 0, bad, priors)
    assert evidence.log_factor[0] == pytest.approx(np.log(cause / none), abs=2e-4)
    spoil = integral(exposure, bad, priors, lambda b, theta: theta) / cause
    assert evidence.spoil_mean[0] == pytest.approx(spoil, abs=1e-4)
    for node in (0, 10, 23):
        e = exposure_nodes()[node]
        good = integral(exposure, bad, priors, lambda b, theta, e=e: (1 - b) * (1 - theta) ** e)
        assert evidence.good_chance[0, node] == pytest.approx(good / cause, abs=1e-4)


@pytest.mark.parametrize(("spools", "held"), [(60, 10), (60, 30), (300, 120), (2000, 700)])
def test_integration_stays_exact_as_evidence_grows(spools, held):
    """Fully exposed spools alone: the closed form is a sum of Beta functions, in exact integers."""
    from fractions import Fraction
    from math import comb, factorial, log

    bad_held, bad_other = held // 2, 3
    good_other = spools - held - bad_other
    priors = SuspectPriors(background_alpha=1, background_beta=19, spoil_alpha=2, spoil_beta=1)
    exposure = np.r_[np.ones(held), np.zeros(spools - held)]
    bad = np.r_[
        np.ones(bad_held),
        np.zeros(held - bad_held),
        np.ones(bad_other),
        np.zeros(good_other),
    ]

    def beta(a, b):
        return Fraction(factorial(a - 1) * factorial(b - 1), factorial(a + b - 1))

    good = held - bad_held + good_other
    cause = sum(
        comb(bad_held, j)
        * (-1) ** j
        * beta(1 + bad_other, 19 + good + j)
        * beta(2, 1 + held - bad_held + j)
        for j in range(bad_held + 1)
    ) / (beta(1, 19) * beta(2, 1))
    none = beta(1 + bad_held + bad_other, 19 + good) / beta(1, 19)
    factor = cause / none
    expected = log(factor.numerator) - log(factor.denominator)
    assert evidence_of(exposure, bad, priors).log_factor[0] == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    "priors",
    [
        SuspectPriors(0.5, 0.5, 45, 2, 1),
        SuspectPriors(0.5, 2, 300, 2, 1),
        SuspectPriors(0.5, 40, 40, 2, 1),
        SuspectPriors(0.5, 0.5, 4.5, 200, 2),
        SuspectPriors(0.5, 0.5, 4.5, 1, 60),
    ],
)
def test_integration_holds_under_firm_priors(priors):
    exposure = np.array([0.003, 0.07, 1, 0.9, 0.4, 0, 0, 0, 0])
    bad = np.array([1, 0, 1, 1, 1, 0, 0, 0, 1], dtype=bool)
    cause, none = integral(exposure, bad, priors), integral(exposure * 0, bad, priors)
    factor = evidence_of(exposure, bad, priors).log_factor[0]
    assert factor == pytest.approx(np.log(cause / none), abs=2e-3)


def test_lines_weighed_together_are_as_if_weighed_alone():
    random = np.random.default_rng(7)
    bad = random.random(400) < 0.3
    matrix = random.random((400, 7)) * (random.random((400, 7)) < [0, 0.01, 0.05, 0.1, 0.3, 1, 0])
    matrix[:, 6] = bad
    spool, line = np.nonzero(matrix)
    counts = int(bad.sum()), int((~bad).sum())
    together = weigh_causes(line, matrix[spool, line], bad[spool], 7, *counts, SuspectPriors())
    for one in range(7):
        alone = evidence_of(matrix[:, one], bad)
        assert together.log_factor[one] == pytest.approx(alone.log_factor[0], abs=1e-3)
        assert together.spoil_mean[one] == pytest.approx(alone.spoil_mean[0], abs=1e-4)
        assert together.good_chance[one] == pytest.approx(alone.good_chance[0], abs=1e-4)


def test_an_unexposed_line_has_a_factor_of_one():
    evidence = evidence_of([0, 0, 0], [1, 0, 0])
    assert evidence.log_factor[0] == pytest.approx(0, abs=1e-5)
    assert evidence.spoil_mean[0] == pytest.approx(2 / 3, abs=1e-5)


def test_interpolation_meets_the_nodes_and_a_smooth_curve_between():
    start, weight = between_nodes(exposure_nodes())
    nodes = exposure_nodes()[start[:, None] + np.arange(4)]
    assert (weight * nodes).sum(axis=1) == pytest.approx(exposure_nodes(), abs=1e-12)
    exposure = np.linspace(0, 1, 401)
    start, weight = between_nodes(exposure)
    for b, theta in ((0.002, 0.9), (0.05, 0.5), (0.3, 0.1)):
        curve = np.log(1 - (1 - b) * (1 - theta) ** exposure_nodes())
        read = (weight * curve[start[:, None] + np.arange(4)]).sum(axis=1)
        exact = np.log(1 - (1 - b) * (1 - theta) ** exposure)
        assert read == pytest.approx(exact, abs=1e-3)


def test_chances_out_of_range_are_refused():
    for call in (
        lambda: bad_chance(1.1, [0.5], [1]),
        lambda: bad_chance(0.1, [-0.5], [1]),
        lambda: bad_chance(0.1, [0.5], [2]),
        lambda: between_nodes([1.5]),
        lambda: between_nodes([float("nan")]),
    ):
        with pytest.raises(ValueError, match="between 0 and 1"):
            call()
