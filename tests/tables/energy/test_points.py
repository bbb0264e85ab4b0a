"""Points against the logs that they stand for."""

import numpy as np
import pytest

from recycling.calc.energy.logs import power_log
from recycling.tables.energy.blocks import Rows
from recycling.tables.energy.points import (
    PowerPoints,
    RowPoints,
    counter_points,
    interval_points,
    joined_points,
)

S = 1_000_000


def rows(at_s, values):
    at_us = (np.asarray(at_s) * S).astype(np.int64)
    return Rows(np.arange(len(at_us)), at_us, np.asarray(values, dtype=float))


@pytest.mark.parametrize("size", [1, 7, 1000])
def test_points_do_not_depend_on_the_blocks(size):
    rng = np.random.default_rng(2)
    every = rows(np.cumsum(rng.uniform(0.1, 90, 400)), rng.uniform(0, 2000, 400))
    points = PowerPoints(60, "trapezoid", 30)
    for start in range(0, 400, size):
        points.add(every[start : start + size])
    found = points.finished()
    log = power_log(every.us, every.value, max_gap_s=60)
    inside = found.at_us[1:-1]
    assert (inside % (30 * S) == 0).all()
    assert (np.diff(found.at_us) > 0).all()
    from recycling.calc.energy.intervals import accumulated_at

    kwh, covered = accumulated_at(log, found.at_us)
    assert found.kwh == pytest.approx(kwh, abs=1e-12)
    assert (found.covered_us == covered).all()
    assert found.at_us[[0, -1]].tolist() == every.us[[0, -1]].tolist()


def test_nothing_gives_no_points():
    assert len(PowerPoints(60, "step", 60).finished()) == 0
    assert len(RowPoints(lambda r: r).finished()) == 0
    assert len(joined_points([])) == 0
    assert len(counter_points(rows([1], [5.0]), None, False)) == 0


def test_counter_that_fell_gives_points_only_when_somebody_said_why():
    fell = rows([0, 10, 20, 30], [98.0, 99.0, 1.0, 2.0])
    assert len(counter_points(fell, None, False)) == 0
    assert counter_points(fell, None, True).kwh.tolist() == [0, 1, 2, 3]
    assert counter_points(fell, 100.0, False).kwh.tolist() == [0, 1, 3, 4]
    assert counter_points(fell, None, True).covered_us.tolist() == [0, 10 * S, 20 * S, 30 * S]


def test_interval_energies_end_at_their_row_and_a_gap_stays():
    found = interval_points(rows([900, 1800, 7200, 8100], [1.0, 2.0, 3.0, 4.0]), 900, 1000)
    assert (found.at_us // S).tolist() == [0, 900, 1800, 6300, 7200, 8100]
    assert found.kwh.tolist() == [0, 1, 3, 3, 6, 10]
    assert (found.covered_us // S).tolist() == [0, 900, 1800, 1800, 2700, 3600]


def test_single_interval_is_covered():
    found = interval_points(rows([900], [1.5]), 900, 1000)
    assert (found.kwh.tolist(), (found.covered_us // S).tolist()) == ([0, 1.5], [0, 900])
