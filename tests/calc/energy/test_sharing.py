"""Overhead by mass, runs at once, energy carried from lot to lot."""

import random

import numpy as np
import pytest

from recycling.calc.energy.intervals import energy_between
from recycling.calc.energy.logs import power_log
from recycling.calc.energy.sharing import (
    RunEnergy,
    session_energy,
    shared_by_mass,
)
from tests.calc.energy.cumulative import cumulative_energy

S = 1_000_000
HOUR = 3600 * S


@pytest.fixture
def day():
    return power_log([0, 24 * HOUR], [1000.0, 1000.0], max_gap_s=24 * 3600)


def test_sharing_needs_mass():
    assert shared_by_mass(6.0, {"A": 1, "B": 0, "C": 2}) == {"A": 2.0, "B": 0.0, "C": 4.0}
    with pytest.raises(ValueError, match="no mass to share"):
        shared_by_mass(1.0, {"A": 0})
    with pytest.raises(ValueError, match="mass of A"):
        shared_by_mass(1.0, {"A": -1, "B": 5})
    with pytest.raises(ValueError, match="energy_kwh"):
        shared_by_mass(-1.0, {"A": 1})


def test_overhead_is_told_apart_by_phase_and_shared_by_mass(day):
    runs = {"one": ((2 * HOUR, 4 * HOUR), 300), "two": ((5 * HOUR, 6 * HOUR), 100)}
    phases = [("warm-up", (0, 2 * HOUR)), ("purge", (6 * HOUR, 7 * HOUR))]
    split = session_energy(day, (0, 8 * HOUR), runs, phases)
    assert split.overhead_kwh == {"warm-up": 2.0, "standby": 2.0, "purge": 1.0}
    assert (split.runs["one"].own_kwh, split.runs["two"].own_kwh) == (2.0, 1.0)
    assert (split.runs["one"].overhead_kwh, split.runs["two"].overhead_kwh) == (3.75, 1.25)


def test_machine_serving_two_runs_is_shared_by_mass(day):
    runs = {"one": ((0, 3 * HOUR), 300), "two": ((2 * HOUR, 4 * HOUR), 100)}
    split = session_energy(day, (0, 4 * HOUR), runs)
    assert split.runs["one"].own_kwh == pytest.approx(2.75)
    assert split.runs["two"].own_kwh == pytest.approx(1.25)
    assert split.overhead_kwh == {}


def test_session_adds_up_to_what_the_log_says():
    rng = np.random.default_rng(11)
    log = power_log(
        np.cumsum(rng.integers(1, 900, 300)) * S, rng.uniform(0, 2e3, 300), max_gap_s=600
    )
    end = int(log.at_us[-1]) + HOUR
    for _ in range(20):
        spans = np.sort(rng.integers(0, end, (5, 2)), axis=1) + [0, 1]
        runs = {i: ((int(a), int(b)), int(rng.integers(1, 999))) for i, (a, b) in enumerate(spans)}
        session = (0, end + 1)
        split = session_energy(log, session, runs, [("warm-up", (0, end // 9))])
        whole = energy_between(log, *session)
        assert sum(run.kwh for run in split.runs.values()) == pytest.approx(whole.kwh, rel=1e-9)
        assert (split.covered_s, split.span_s) == (whole.covered_s, whole.span_s)


@pytest.mark.parametrize(
    ("session", "runs", "message"),
    [
        ((0, HOUR), {}, "without a run"),
        ((HOUR, 0), {"A": ((0, 1), 1)}, "end of the session"),
        ((0, HOUR), {"A": ((5, 5), 1)}, "end of run A"),
        ((0, HOUR), {"A": ((0, HOUR + 1), 1)}, "run A lies outside"),
        ((0, HOUR), {"A": ((0, 9), -1)}, "mass of run A"),
        ((0, HOUR), {"A": ((0, 9), 0)}, "no mass to share"),
    ],
)
def test_impossible_sessions_are_named(day, session, runs, message):
    with pytest.raises(ValueError, match=message):
        session_energy(day, session, runs)


def test_spool_carries_the_energy_of_what_was_lost_on_the_way():
    wash = RunEnergy(0.5, {"bottles": 1000}, {"clean": 900}, {"reject": 80})
    shred = RunEnergy(1.0, {"clean": 900}, {"flake": 700, "oversize": 100}, {"fines": 50})
    again = RunEnergy(0.2, {"oversize": 100}, {"flake two": 95})
    melt = RunEnergy(
        3.0, {"flake": 700, "flake two": 95}, {"spool": 700, "heel": 50}, {"scrap": 40}
    )
    carried = cumulative_energy([wash, shred, again, melt], {"bottles": 1000})
    assert carried.lot_kwh["reject"] == carried.lot_kwh["fines"] == carried.lot_kwh["scrap"] == 0
    assert carried.lot_kwh["spool"] + carried.lot_kwh["heel"] == pytest.approx(4.7)
    assert carried.lot_kwh["spool"] / carried.lot_kwh["heel"] == pytest.approx(14)


def test_purchased_lot_can_come_with_energy():
    carried = cumulative_energy(
        [RunEnergy(0, {"pellets": 5}, {"spool": 5})], {"pellets": 10}, {"pellets": 4.0}
    )
    assert carried.lot_kwh == {"pellets": 4.0, "spool": 2.0}


def random_history(seed: int) -> tuple[list[RunEnergy], dict[str, int]]:
    rng = random.Random(seed)
    left = {f"o{i}": rng.randint(1, 10**6) for i in range(20)}
    origin_mg, runs = dict(left), []
    for number in range(200):
        lots = rng.sample(sorted(left), rng.randint(1, 4))
        drawn = {lot: rng.randint(0, left[lot]) for lot in lots}
        for lot, mass in drawn.items():
            left[lot] -= mass
        total = sum(drawn.values())
        cut = sorted(rng.randint(0, total) for _ in range(3))
        loaded = {} if rng.random() < 0.1 else {f"p{number}": cut[0], f"r{number}": cut[1] - cut[0]}
        waste = {f"w{number}": cut[2] - cut[1]}
        left |= loaded
        runs.append(RunEnergy(rng.uniform(0, 5), drawn, loaded, waste))
    return runs, origin_mg


@pytest.mark.parametrize("seed", range(5))
def test_carried_energy_equals_a_linear_solve_and_none_is_lost(seed):
    """Independent: numpy.linalg.solve of e = own + D e over the same random history."""
    runs, origin_mg = random_history(seed)
    carried = cumulative_energy(runs, origin_mg)
    lots = list(carried.lot_kwh)
    place = {lot: i for i, lot in enumerate(lots)}
    made = origin_mg | {k: m for r in runs for k, m in (r.loaded_mg | r.waste_mg).items()}
    matrix, own = np.eye(len(lots)), np.zeros(len(lots))
    for run in runs:
        loaded_total = sum(run.loaded_mg.values())
        for lot, mass in run.loaded_mg.items() if loaded_total else ():
            own[place[lot]] += run.energy_kwh * mass / loaded_total
            for source, drawn in run.drawn_mg.items():
                if drawn:
                    matrix[place[lot], place[source]] -= drawn / made[source] * mass / loaded_total
    expected = np.linalg.solve(matrix, own)
    assert [carried.lot_kwh[lot] for lot in lots] == pytest.approx(expected.tolist(), abs=1e-9)
    drawn_mg = dict.fromkeys(lots, 0)
    for run in runs:
        for lot, mass in run.drawn_mg.items():
            drawn_mg[lot] += mass
    rest = sum(
        kwh * (made[lot] - drawn_mg[lot]) / made[lot]
        for lot, kwh in carried.lot_kwh.items()
        if made[lot]
    )
    assert rest + carried.ended_kwh == pytest.approx(sum(run.energy_kwh for run in runs))


@pytest.mark.parametrize(
    ("run", "message"),
    [
        (RunEnergy(1, {"ghost": 1}, {"a": 1}), "ghost is drawn before"),
        (RunEnergy(1, {"o": 11}, {"a": 1}), "drawn beyond its mass by 1 mg"),
        (RunEnergy(1, {"o": 1}, {"o": 1}), "o is made twice"),
        (RunEnergy(1, {"o": 1}, {"a": 1}, {"a": 1}), "a is made twice"),
        (RunEnergy(-1, {"o": 1}, {"a": 1}), "energy_kwh"),
        (RunEnergy(1, {"o": -1}, {"a": 1}), "mass drawn of o"),
        (RunEnergy(1, {"o": 1}, {"a": -1}), "mass of a"),
    ],
)
def test_impossible_histories_are_named(run, message):
    with pytest.raises(ValueError, match=message):
        cumulative_energy([run], {"o": 10})


def test_energy_without_a_lot_is_named():
    with pytest.raises(ValueError, match="comes with energy but no mass"):
        cumulative_energy([], {"o": 10}, {"ghost": 1.0})
