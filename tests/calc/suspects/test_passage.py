"""Shares carried through a lot graph, against every way that a particle can have come.

The reference is a definition, not another program: a particle of a run's output came, with the
chance of the mass drawn, from one of its portions, and so on back; the share of a mark is the
chance that the particle met it at least once. All ways are listed one by one. Shares are also
held against the inverse of (I - F), F the fractions drawn (Leontief's inverse, as in input-output
tables: Miller and Blair, Input-Output Analysis, 2nd ed. 2009, section 2.2).
"""

from __future__ import annotations

import random
from dataclasses import replace
from graphlib import CycleError

import numpy as np
import pytest

from recycling.calc.suspects.passage import Drawn, Passing, carried, in_order, of_one, of_rows

MARKS = 12


def ways(runs: dict, lot: str) -> list[tuple[float, frozenset[int]]]:
    """List every way a particle of a lot can have come: its chance, and the marks it met."""
    passing = next((one for one in runs.values() if lot in one.gave), None)
    if passing is None:
        return [(1.0, frozenset())]
    found = [
        (fraction * chance, met | frozenset(passing.marks) | frozenset(drawn.marks))
        for drawn, fraction in zip(
            passing.drawn, passing.parts.get(lot, passing.fractions), strict=True
        )
        for chance, met in ways(runs, drawn.lot)
    ] or [(1.0, frozenset(passing.marks))]
    for mark, part in passing.borne.get(lot, {}).items():
        found = [
            (chance * share, met | new)
            for chance, met in found
            for share, new in ((part, frozenset({mark})), (1 - part, frozenset()))
        ]
    return found


def met_at_least_once(runs: dict, lot: str) -> dict[int, float]:
    shares: dict[int, float] = {}
    for chance, met in ways(runs, lot):
        for mark in met:
            shares[mark] = shares.get(mark, 0.0) + chance
    return shares


def random_runs(seed: int, count: int = 6) -> dict[int, Passing]:
    """Make runs that draw from earlier ones and give two lots each, some in order, some mixed."""
    chance = random.Random(seed)
    runs = {}
    for run in range(count):
        lots = [f"{maker}{which}" for maker in range(run) for which in "ab"]
        drawn = tuple(
            Drawn(
                lot,
                chance.randint(1, 9),
                tuple(chance.sample(range(MARKS), chance.randint(0, 2))),
            )
            for lot in chance.sample(lots, k=min(len(lots), chance.randint(1, 3))) or ["in"]
        )
        gave = f"{run}a", f"{run}b"
        marks = tuple(chance.sample(range(MARKS), chance.randint(0, 2)))
        first = [chance.random() for _ in drawn]
        parts = {gave[0]: [one / sum(first) for one in first]} if chance.random() < 0.5 else {}
        rest = [mark for mark in range(MARKS) if mark not in marks]
        borne = {gave[1]: {chance.choice(rest): chance.random()}} if chance.random() < 0.5 else {}
        runs[run] = Passing(drawn, marks, gave, parts, borne)
    return runs


@pytest.mark.parametrize("seed", range(40))
def test_a_share_is_the_chance_of_having_met_the_mark_at_least_once(seed):
    """A mark met in part was met independently of all that came before, as stated."""
    runs = random_runs(seed)
    found = carried(runs, MARKS, floor=0.0)
    assert len(found) == 2 * len(runs)
    for lot, (numbers, shares) in found.items():
        wanted = met_at_least_once(runs, lot)
        mine = {n: s for n, s in zip(numbers.tolist(), shares.tolist(), strict=True) if s > 0}
        assert mine == pytest.approx(wanted)
        assert list(numbers) == sorted(numbers)


@pytest.mark.parametrize("seed", range(10))
def test_one_mark_alone_has_the_share_that_it_has_among_all(seed):
    runs = {
        run: Passing(tuple(Drawn(d.lot, d.mass_mg) for d in one.drawn), (), one.gave, one.parts)
        for run, one in random_runs(seed).items()
    }
    for mark, part in (("in", 1.0), ("1a", 1.0), ("0b", 0.3)):
        marked = {
            run: replace(
                one,
                drawn=tuple(
                    replace(d, marks=(0,) if d.lot == mark == "in" else ()) for d in one.drawn
                ),
                borne={mark: {0: part}} if mark in one.gave else {},
            )
            for run, one in runs.items()
        }
        lots, taken = of_one(runs, {mark: part})
        for lot, (numbers, shares) in carried(marked, 1, floor=0.0).items():
            assert lots[lot] == pytest.approx(shares[0] if len(numbers) else 0.0)
        for run, one in runs.items():
            held = [lots.get(d.lot, 0.0) for d in one.drawn]
            assert taken[run] == pytest.approx(np.dot(one.fractions, held))


def test_shares_of_lots_are_those_of_leontiefs_inverse():
    runs = {
        run: Passing(tuple(Drawn(d.lot, d.mass_mg) for d in one.drawn), (run,), one.gave)
        for run, one in random_runs(3, count=9).items()
    }
    fractions = np.zeros((9, 9))
    for run, passing in runs.items():
        for drawn, fraction in zip(passing.drawn, passing.fractions, strict=True):
            if drawn.lot != "in":
                fractions[run, int(drawn.lot[0])] += fraction
    wanted = np.linalg.inv(np.eye(9) - fractions)
    row, mark, share = of_rows([f"{run}a" for run in range(9)], carried(runs, 9, floor=0.0))
    mine = np.zeros((9, 9))
    mine[row, mark] = share
    assert mine == pytest.approx(wanted)


def test_what_is_not_known_is_carried_on_as_not_known():
    runs = {
        "melt": Passing((Drawn("in", 1.0),), (), ("s",), borne={"s": {0: float("nan"), 1: 0.5}}),
        "wind": Passing((Drawn("s", 1.0), Drawn("in", 1.0)), (), ("t",)),
    }
    numbers, shares = carried(runs, 2)["t"]
    assert numbers.tolist() == [0, 1]
    assert np.isnan(shares[0]) and shares[1] == 0.25


def test_what_is_below_the_floor_is_let_go_and_what_is_above_stays():
    bags = (Drawn("a", 999_999.0, (0,)), Drawn("b", 1.0, (1,)))
    runs = {"mix": Passing(bags, (), ("m",))}
    assert carried(runs, 2, floor=1e-5)["m"][0].tolist() == [0]
    assert carried(runs, 2, floor=1e-7)["m"][0].tolist() == [0, 1]


def test_a_run_that_drew_nothing_has_its_own_marks_only():
    assert carried({"in": Passing((), (1,), ("a",))}, 2)["a"][0].tolist() == [1]
    empty = {"in": Passing((Drawn("x", 0.0, (0,)),), (), ("a",))}
    assert carried(empty, 2)["a"][0].tolist() == []
    assert of_one({"in": Passing((), (), ("a",))}, {}) == ({"a": 0.0}, {"in": 0.0})


def test_a_chain_of_a_thousand_heels_is_no_trouble():
    runs = {
        run: Passing((Drawn(run - 1, 1.0), Drawn("fresh", 1.0, (run,))), (), (run,))
        for run in range(1, 1001)
    }
    numbers, shares = carried(runs, 1001)[1000]
    assert shares[-1] == 0.5 and numbers[-1] == 1000
    assert shares.sum() == pytest.approx(1, abs=1e-6)


def test_runs_in_a_circle_are_refused():
    runs = {
        "a": Passing((Drawn("y", 1.0),), (), ("x",)),
        "b": Passing((Drawn("x", 1.0),), (), ("y",)),
    }
    with pytest.raises(CycleError):
        in_order(runs)
