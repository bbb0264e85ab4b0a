"""Stated half-intervals hold 95 % of invented truths; a cut of what ``manage.py coverage`` does.

JCGM 101:2008 (supplement 1 of the GUM): distributions propagated by Monte Carlo are what a stated
interval is held against. The periods are invented; the full count is 4,000.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from recycling.calc.reports.coverage_simulation import BOTTLES, coverage, period

PERIODS = 400


@pytest.fixture(scope="module")
def rows():
    return coverage(PERIODS, seed=20260512)


@pytest.mark.slow
def test_each_figure_covers_its_truth_in_95_of_100_periods(rows):
    # 0.93 to 0.97 is asked of 4,000; of fewer, three standard deviations of counting more
    room = 3 * math.sqrt(0.95 * 0.05 / PERIODS)
    assert len(rows) == 12
    for row in rows:
        assert 0.93 - room < row.inside < 0.97 + room, row.name


@pytest.mark.slow
def test_what_takes_each_reading_for_itself_does_not_cover():
    """The same readings with every source told apart: too narrow where errors are shared."""
    held = 0
    for chance in np.random.SeedSequence(7).spawn(PERIODS // 2):
        true, found = period(np.random.default_rng(chance), BOTTLES[2])["counted bags"]
        scatter = [part for source, part in found.parts.items() if source.kind == "scatter"]
        mean = next(part for source, part in found.parts.items() if source.kind == "sample")
        # the mean's part told apart by bag: of N bags of like size it shrinks by √N
        apart = math.hypot(*scatter, mean / math.sqrt(len(scatter)))
        held += abs(true - found.value) <= 2 * apart
    assert held / (PERIODS // 2) < 0.75


def test_the_same_seed_invents_the_same_periods():
    first, second = (period(np.random.default_rng(3), 5) for _ in range(2))
    assert {name: (true, found.value) for name, (true, found) in first.items()} == {
        name: (true, found.value) for name, (true, found) in second.items()
    }


@pytest.mark.parametrize("bottles", [0, 1])
def test_a_sample_needs_two_bottles(bottles):
    with pytest.raises(ValueError, match="bottles"):
        period(np.random.default_rng(1), bottles)


def test_too_few_periods_are_refused():
    with pytest.raises(ValueError, match="periods"):
        coverage(4, seed=1)
