"""Shares carried through a lot graph, against every way that a particle can have come.

The reference is a definition, not another program: a particle of a run's output came, with the
chance of the mass drawn, from one of its draws, and so on back; the share of a mark is the chance
that the particle met it at least once. All ways are listed one by one. The lots' shares are also
held against the inverse of (I - F), F the fractions drawn (Leontief's inverse, as in input-output
tables: Miller and Blair, Input-Output Analysis, 2nd ed. 2009, section 2.2).
"""

from __future__ import annotations

import random
from graphlib import CycleError

import numpy as np
import pytest

from recycling.calc.suspects.passage import Drawn, Passing, carried, in_order, of_one, of_rows

MARKS = 12


def ways(runs: dict, run: int) -> list[tuple[float, frozenset[int]]]:
    """List every way a particle can have come: its chance, and the marks it met."""
    passing = runs.get(run)
    if passing is None:
        return [(1.0, frozenset())]
    own = frozenset(passing.marks)
    whole = sum(drawn.mass_mg for drawn in passing.drawn)
    if not whole:
        return [(1.0, own)]
    return [
        (drawn.mass_mg / whole * chance, met | own | frozenset(drawn.marks))
        for drawn in passing.drawn
        for chance, met in ways(runs, drawn.maker)
    ]


def met_at_least_once(runs: dict, run: int) -> dict[int, float]:
    shares: dict[int, float] = {}
    for chance, met in ways(runs, run):
        for mark in met:
            shares[mark] = shares.get(mark, 0.0) + chance
    return shares


def random_runs(seed: int, count: int = 7) -> dict[int, Passing]:
    """Make runs that draw from earlier ones, with marks that come again and again."""
    chance = random.Random(seed)
    runs = {}
    for run in range(count):
        makers = chance.sample(range(run), k=min(run, chance.randint(1, 3)))
        drawn = tuple(
            Drawn(
                maker,
                chance.randint(1, 9),
                tuple(chance.sample(range(MARKS), chance.randint(0, 2))),
            )
            for maker in makers or [-1]
        )
        runs[run] = Passing(drawn, tuple(chance.sample(range(MARKS), chance.randint(0, 2))))
    return runs


@pytest.mark.parametrize("seed", range(40))
def test_a_share_is_the_chance_of_having_met_the_mark_at_least_once(seed):
    runs = random_runs(seed)
    found = carried(runs, MARKS, floor=0.0)
    for run in runs:
        numbers, shares = found[run]
        wanted = met_at_least_once(runs, run)
        mine = {n: s for n, s in zip(numbers.tolist(), shares.tolist(), strict=True) if s > 0}
        assert mine == pytest.approx(wanted)
        assert list(numbers) == sorted(numbers)


@pytest.mark.parametrize("seed", range(10))
def test_one_mark_alone_has_the_share_that_it_has_among_all(seed):
    runs = random_runs(seed)
    found = carried(runs, MARKS, floor=0.0)
    for mark in range(MARKS):
        alone = of_one(runs, mark)
        for run, (numbers, shares) in found.items():
            among = dict(zip(numbers.tolist(), shares.tolist(), strict=True))
            assert alone[run] == pytest.approx(among.get(mark, 0.0))


def test_shares_of_runs_are_those_of_leontiefs_inverse():
    runs = random_runs(3, count=9)
    runs = {
        run: Passing(tuple(Drawn(d.maker, d.mass_mg) for d in passing.drawn), (run,))
        for run, passing in runs.items()
    }
    fractions = np.zeros((9, 9))
    for run, passing in runs.items():
        whole = sum(drawn.mass_mg for drawn in passing.drawn)
        for drawn in passing.drawn:
            if drawn.maker >= 0:
                fractions[run, drawn.maker] += drawn.mass_mg / whole
    wanted = np.linalg.inv(np.eye(9) - fractions)
    row, mark, share = of_rows(range(9), carried(runs, 9, floor=0.0))
    mine = np.zeros((9, 9))
    mine[row, mark] = share
    assert mine == pytest.approx(wanted)


def test_what_is_below_the_floor_is_let_go_and_what_is_above_stays():
    bags = (Drawn("a", 999_999.0, (0,)), Drawn("b", 1.0, (1,)))
    runs = {"mix": Passing(bags)}
    assert carried(runs, 2, floor=1e-5)["mix"][0].tolist() == [0]
    assert carried(runs, 2, floor=1e-7)["mix"][0].tolist() == [0, 1]


def test_a_run_that_drew_nothing_has_its_own_marks_only():
    assert carried({"in": Passing((), (1,))}, 2)["in"][0].tolist() == [1]
    assert carried({"in": Passing((Drawn("x", 0.0, (0,)),))}, 2)["in"][0].tolist() == []
    assert of_one({"in": Passing(())})["in"] == 0.0


def test_a_chain_of_a_thousand_heels_is_no_trouble():
    runs = {
        run: Passing((Drawn(run - 1, 1.0), Drawn("fresh", 1.0, (run,)))) for run in range(1, 1001)
    }
    numbers, shares = carried(runs, 1001)[1000]
    assert shares[-1] == 0.5 and numbers[-1] == 1000
    assert shares.sum() == pytest.approx(1, abs=1e-6)


def test_runs_in_a_circle_are_refused():
    runs = {"a": Passing((Drawn("b", 1.0),)), "b": Passing((Drawn("a", 1.0),))}
    with pytest.raises(CycleError):
        in_order(runs)
