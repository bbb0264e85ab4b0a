"""Feed order: a worked check in small parcels, and exact conservation.

Sources
-------
.. [1] A barrel stepped in small parcels by a program of its own: heel 60 g of O, feed A 400 g
   then B 600 g, out scrap 150 g and spools of 500 g and 340 g, 10 g lost.
.. [2] O. Levenspiel, Chemical Reaction Engineering, 3rd ed. (1999), ch. 11: the washout of a
   mixed vessel is 1 - exp(-V/H).
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from recycling.calc.lots.composition import TRACES
from recycling.calc.lots.feed_order import feed_order
from recycling.calc.lots.two_way import largest_remainders, two_way

G = 1_000


def test_worked_check_of_the_methods_page():
    feeds = [({"A": 1}, 400 * G), ({"B": 1}, 600 * G)]
    outputs = [150 * G, 500 * G, 340 * G]
    found = feed_order([({"O": 1}, 60 * G)], feeds, outputs, 60 * G)
    grams = [{one: mass / G for one, mass in part.items()} for part in found.outputs]
    assert grams[0] == pytest.approx({"O": 55.075, "A": 94.925}, abs=6e-4)
    assert grams[1] == pytest.approx({"O": 4.924, "A": 300.206, "B": 194.870}, abs=6e-4)
    assert grams[2] == pytest.approx({"O": 0.001, "A": 0.866, "B": 339.133}, abs=6e-4)


def test_washout_of_a_mixed_vessel():
    found = feed_order([({"O": 1}, 50 * G)], [({"A": 1}, 500 * G)], [100 * G, 400 * G], 50 * G)
    assert found.outputs[0]["O"] == round(50 * G * (1 - math.exp(-2)))
    assert found.heel["A"] == pytest.approx(50 * G * (1 - math.exp(-10)), abs=1)


def stepped(heel, feeds, outputs, left, parcels=40_000):
    """Push the mass through the barrel in small parcels, each mixed in before the next."""
    held, fed = heel.sum(), feeds.sum()
    through = sum(outputs) + left - held
    scaled = feeds * (through / fed)
    size = max(held, float(left))
    small = scaled.sum() / parcels
    barrel, level = heel.astype(float), held
    given = np.zeros((len(outputs), heel.size))
    ends, passed, place = np.cumsum(outputs), 0.0, 0
    queue = [(row / row.sum(), row.sum()) for row in scaled if row.sum()]
    for share, mass in queue:
        while mass > 1e-9:
            part = min(small, mass)
            mass -= part
            if level < size - 1e-9:
                barrel, level = barrel + share * part, level + part
                continue
            while part > 1e-12 and place < len(outputs):
                piece = min(part, ends[place] - passed)
                share_out = barrel / barrel.sum()
                given[place] += share_out * piece
                barrel = barrel + share * piece - share_out * piece
                passed, part = passed + piece, part - piece
                if ends[place] - passed < 1e-9:
                    place += 1
    while place < len(outputs):
        piece = ends[place] - passed
        given[place] += barrel / barrel.sum() * piece
        barrel = barrel * (1 - piece / barrel.sum())
        passed, place = ends[place], place + 1
    return given


@pytest.mark.parametrize("seed", range(12))
def test_random_runs_agree_with_small_parcels(seed):
    random = np.random.default_rng(seed)
    origins = 4
    heel = np.zeros(origins)
    heel[0] = random.integers(20, 120) * G
    feeds = np.zeros((3, origins))
    for row in feeds:
        row[random.integers(0, origins)] = random.integers(100, 700) * G
    left = int(random.choice([heel[0], heel[0] // 2, heel[0] * 1.5]))
    drawn = heel.sum() + feeds.sum()
    out = int(drawn * random.uniform(0.96, 1.0)) - left
    cuts = np.sort(random.integers(1, out, 2))
    outputs = [int(cuts[0]), int(cuts[1] - cuts[0]), int(out - cuts[1])]
    as_dicts = [({n: int(m) for n, m in enumerate(row) if m}, int(row.sum())) for row in feeds]
    found = feed_order([({0: 1}, int(heel[0]))], as_dicts, outputs, left)
    wanted = stepped(heel, feeds, outputs, left)
    for place, part in enumerate(found.outputs):
        got = np.array([part.get(n, 0) for n in range(origins)])
        assert got == pytest.approx(wanted[place], abs=max(outputs) * 4e-4)


masses = some.integers(0, 3_000_000)
lots = some.tuples(
    some.dictionaries(
        some.one_of(some.integers(1, 9), some.just(TRACES)), some.integers(1, 10**7), max_size=5
    ),
    masses,
)


@settings(max_examples=300, deadline=None)
@given(
    heel=some.lists(lots, max_size=2),
    feeds=some.lists(lots, max_size=5),
    outputs=some.lists(masses, min_size=1, max_size=6),
    left=masses,
)
def test_any_input_is_conserved_to_the_milligram(heel, feeds, outputs, left):
    found = feed_order(heel, feeds, outputs, left)
    for part, mass in zip((*found.outputs, found.heel), (*outputs, left), strict=True):
        assert sum(part.values()) == mass
        assert all(one > 0 for one in part.values())
    drawn = sum(mass for _, mass in (*heel, *feeds))
    if drawn >= sum(outputs) + left:
        from recycling.calc.lots.composition import mix, take

        had = mix([take(composition, mass) for composition, mass in (*heel, *feeds)])
        came = mix([*found.outputs, found.heel])
        assert all(came[one] <= had.get(one, 0) for one in came)
        if drawn == sum(outputs) + left:
            assert {k: v for k, v in came.items() if v} == {k: v for k, v in had.items() if v}


def test_without_loss_both_margins_are_exact():
    found = feed_order([({"O": 1}, 7)], [({"A": 2, "B": 1}, 10), ({"B": 1}, 11)], [5, 5, 5, 6], 7)
    parts = [*found.outputs, found.heel]
    assert {one: sum(part.get(one, 0) for part in parts) for one in "OAB"} == {
        "O": 7,
        "A": 7,
        "B": 14,
    }


def test_without_a_heel_the_outputs_are_the_queue():
    found = feed_order([], [({"A": 1}, 600), ({"B": 1}, 400)], [600, 400], 0)
    assert found.outputs == ({"A": 600}, {"B": 400})


def test_more_out_than_in_is_shared_as_a_gain():
    found = feed_order([({"O": 1}, 10)], [({"A": 1}, 90)], [120], 10)
    assert sum(found.outputs[0].values()) == 120
    assert found.heel.keys() <= {"O", "A"}


@pytest.mark.parametrize(
    ("heel", "feeds", "outputs", "left"),
    [([({"O": 1}, -1)], [], [1], 0), ([], [({"A": 1}, 5)], [-5], 0), ([], [], [0], -1)],
)
def test_negative_masses_are_named(heel, feeds, outputs, left):
    with pytest.raises(ValueError, match="cannot be negative"):
        feed_order(heel, feeds, outputs, left)


@settings(max_examples=200, deadline=None)
@given(some.lists(some.lists(some.integers(0, 50), min_size=3, max_size=3), min_size=1, max_size=6))
def test_two_way_keeps_a_whole_table(rows):
    table = np.array(rows)
    kept = two_way(table.astype(float), table.sum(axis=1), table.sum(axis=0))
    assert kept.tolist() == table.tolist()


def test_two_way_names_what_cannot_be_rounded():
    with pytest.raises(ValueError, match="rows add up to 3 mg, columns to 2 mg"):
        two_way(np.array([[1.0, 2.0]]), [3], [1, 1])
    with pytest.raises(ValueError, match="may be taken"):
        largest_remainders(np.array([1.0]), 2, np.array([1]))
    with pytest.raises(ValueError, match="negative"):
        two_way(np.array([[1.0]]), [-1], [-1])
    with pytest.raises(ValueError, match="has 2 rows"):
        two_way(np.array([[1.0]]), [1, 0], [1])
