"""Well mixed while a run goes on, held against parcels that are put in and taken out one by one."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import numpy as np
import pytest

from recycling.calc.lots.prefix_mixing import mixed_so_far, parts_so_far

START = datetime(2026, 1, 1)


def by_parcels(fed, outputs, steps=400):
    """Take each output out of one vessel in small parts, in order of time; no closed form."""
    vessel = np.zeros(len(fed))
    waiting = sorted(range(len(fed)), key=lambda place: fed[place][1])
    rows = {}
    for place in sorted(range(len(outputs)), key=lambda place: outputs[place][1]):
        mass, cut = outputs[place]
        while waiting and fed[waiting[0]][1] <= cut:
            vessel[waiting[0]] += fed[waiting.pop(0)][0]
        got = np.zeros(len(fed))
        for _ in range(steps):
            part = vessel * (mass / steps / vessel.sum())
            vessel, got = vessel - part, got + part
        rows[place] = got / mass
    return np.array([rows[place] for place in range(len(outputs))])


def invented(seed):
    dice = random.Random(seed)
    fed, outputs, inside, at = [], [], 0.0, START
    for _ in range(dice.randint(3, 12)):
        at += timedelta(minutes=dice.randint(1, 90))
        if inside < 1 or dice.random() < 0.5:
            fed.append((dice.randint(100, 900) * 1000, at))
            inside += fed[-1][0]
        else:
            outputs.append((round(inside * dice.uniform(0.1, 0.9)), at))
            inside -= outputs[-1][0]
    return fed, outputs


@pytest.mark.parametrize("seed", range(12))
def test_each_output_has_what_parcels_give_it(seed):
    fed, outputs = invented(seed)
    found = parts_so_far(
        *zip(*fed, strict=True), *(zip(*outputs, strict=True) if outputs else ([], []))
    )
    if not outputs:
        assert found.shape == (0, len(fed))
        return
    assert found == pytest.approx(by_parcels(fed, outputs), abs=1e-9)
    for row, (_, cut) in zip(found, outputs, strict=True):
        assert not any(row[place] for place, (_, at) in enumerate(fed) if at > cut)
    whole = mixed_so_far(
        [({place: 1}, mass) for place, (mass, _) in enumerate(fed)],
        [at for _, at in fed],
        *zip(*outputs, strict=True),
        floor_ppm=0,
    )
    for parts, row, (mass, _) in zip(whole, found, outputs, strict=True):
        assert sum(parts.values()) == mass
        assert all(abs(parts.get(p, 0) - share * mass) < 3 for p, share in enumerate(row))
    for place, (mass, _) in enumerate(fed):
        assert sum(parts.get(place, 0) for parts in whole) <= mass


def test_outputs_of_one_moment_are_alike():
    at = [START, START + timedelta(hours=1)]
    found = parts_so_far([2.0, 2.0], [at[0], at[1]], [1.0, 1.0, 1.0], [at[0], at[1], at[1]])
    assert found[1].tolist() == found[2].tolist() == pytest.approx([1 / 3, 2 / 3])


def test_more_cut_than_fed_by_then_is_not_so_and_a_gain_at_the_end_is():
    late = START + timedelta(hours=1)
    assert parts_so_far([1.0, 1.0], [START, late], [1.5, 0.4], [START, late]) is None
    assert mixed_so_far([({"A": 1}, 1), ({"B": 1}, 1)], [START, late], [2], [START], 1) is None
    assert parts_so_far([1.0], [START], [1.5], [late]).tolist() == [[1.0]]
