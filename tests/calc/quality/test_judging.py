"""Checks of products, against printed factors and closed forms.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3 (tolerance factors; the exact
ones by integration of the definition in ISO 16269-6); ln(1 − c)/ln(p) rounded up (Wilks 1941);
Clopper and Pearson (1934), beta quantiles; the decision rule of ISO 14253-1.
"""

from __future__ import annotations

import random

import pytest

from recycling.calc.quality.judging import (
    Answer,
    Limits,
    Why,
    all_inside,
    judged_reading,
    looks_normal,
    mean_inside,
    readings_needed,
    share_at_least,
    share_inside,
    tolerance_factor,
)

STRAND = Limits(1.70, 1.80, doubt=0.02, step=0.01)


def test_exact_tolerance_factors():
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2228, abs=5e-4)
    exact = {5: 5.0769, 10: 3.3934, 20: 2.7603, 30: 2.5549, 50: 2.3816, 100: 2.2339}
    for count, factor in exact.items():
        assert tolerance_factor(count, 0.95, 0.95) == pytest.approx(factor, abs=5e-4)


def test_so_many_readings_inside_show_a_share():
    needed = {(0.9, 0.8): 16, (0.9, 0.9): 22, (0.9, 0.95): 29, (0.95, 0.95): 59, (0.99, 0.95): 299}
    for (share, sure), count in {**needed, (0.99, 0.99): 459}.items():
        assert readings_needed(share, sure) == count
        assert (
            share_at_least(count, count, sure) >= share > share_at_least(count - 1, count - 1, sure)
        )


def test_shares_by_clopper_and_pearson():
    """Two-sided 95 % limits of a share outside are one-sided ones at 97.5 %."""
    for outside, count, high in ((0, 20, 0.1684334709830853), (12, 3000, 0.006976759682170838)):
        assert 1 - share_at_least(count - outside, count, 0.975) == pytest.approx(high, rel=1e-9)


def test_a_coarse_gauge_may_call_little_passed():
    answers = [judged_reading(mm, STRAND) for mm in (1.75, 1.775, 1.785, 1.8, 1.815, 1.825, 1.68)]
    passed, failed, neither = Answer.PASSED, Answer.FAILED, Answer.NOT_JUDGED
    assert answers == [passed, passed, neither, neither, neither, failed, neither]


def test_a_strand_from_too_thin_to_too_thick_fails():
    wild = [1.40, 2.00, 1.62, 1.95, 1.55, 1.88, 1.75, 1.45, 1.90, 1.70]
    assert share_inside(wild, STRAND, 10, 0.9, 0.8).answer is Answer.FAILED
    assert all_inside(wild, Limits(None, 1.90, 0.02), 1).answer is Answer.FAILED


@pytest.mark.parametrize("count", [1, 5, 9])
def test_few_good_readings_pass_nothing(count):
    found = share_inside([1.75] * count, STRAND, 10, 0.9, 0.8)
    assert (found.answer, found.why, found.more) == (Answer.NOT_JUDGED, Why.TOO_FEW, 10 - count)


def test_narrow_readings_pass_by_their_spread_and_wide_ones_by_their_number():
    chance = random.Random(4)
    narrow = [round(chance.gauss(1.75, 0.008), 3) for _ in range(10)]
    assert looks_normal(narrow)
    assert share_inside(narrow, STRAND, 10, 0.9, 0.8).answer is Answer.PASSED
    lumpy = [1.725, 1.776] * 7
    assert not looks_normal(lumpy)
    two_heaps = share_inside(lumpy, STRAND, 10, 0.9, 0.8)
    assert (two_heaps.answer, two_heaps.more) == (Answer.NOT_JUDGED, 2)
    assert share_inside([*lumpy, 1.74, 1.76], STRAND, 10, 0.9, 0.8).answer is Answer.PASSED


def test_readings_between_the_limits_of_a_gauge_are_not_judged():
    found = share_inside([1.79] * 40, STRAND, 10, 0.9, 0.8)
    assert (found.answer, found.why) == (Answer.NOT_JUDGED, Why.NOT_SURE)
    assert share_inside([1.83] * 40, STRAND, 10, 0.9, 0.8).answer is Answer.FAILED


def test_a_mean_is_judged_with_the_gauges_doubt():
    limits = Limits(None, 0.05, 0.02)
    answers = [mean_inside([mm] * 3, limits, 3).answer for mm in (0.02, 0.05, 0.08)]
    assert answers == [Answer.PASSED, Answer.NOT_JUDGED, Answer.FAILED]
    assert mean_inside([0.02], limits, 3).more == 2


def test_a_strand_that_is_not_good_enough_seldom_passes():
    """Of strands with 80 % inside at most a fifth may pass by a rule that is 80 % sure of 90 %."""
    chance, passed = random.Random(11), 0
    for _ in range(300):
        values = [chance.gauss(1.75, 0.03 / 1.2816) for _ in range(20)]
        passed += share_inside(values, STRAND, 10, 0.9, 0.8).answer is Answer.PASSED
    assert passed / 300 <= 0.20


@pytest.mark.parametrize(
    ("refused", "message"),
    [
        (lambda: share_inside([], STRAND, 1, 0.9, 0.8), "values"),
        (lambda: share_inside([1.75], STRAND, 1, 1.0, 0.8), "share"),
        (lambda: share_inside([1.75], STRAND, 1, 0.9, 0.0), "sure"),
        (lambda: all_inside([], STRAND, 1), "values"),
        (lambda: mean_inside([], STRAND, 1), "values"),
        (lambda: tolerance_factor(1, 0.9, 0.9), "two values"),
    ],
)
def test_bad_input_is_named(refused, message):
    with pytest.raises(ValueError, match=message):
        refused()
