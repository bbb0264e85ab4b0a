"""How sure energy is, held against the uncertainties library and closed forms of the GUM."""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat

from recycling.calc.energy.logs import meter_log, power_log, rated_log
from recycling.calc.energy.sharing import RunEnergy, carried_shares, session_energy, session_pieces
from recycling.calc.energy.stored import joined_log, stored_log
from recycling.calc.energy.totals import energy_total, meter_of
from recycling.calc.energy.uncertainty import class_share, counter_step_kwh, sure_energy
from shared.measured import Measured
from tests.calc.energy.cumulative import cumulative_energy
from tests.calc.energy.test_sharing import random_history

HOUR = 3_600_000_000


def test_a_reading_at_both_ends_gives_the_steps_of_two_readings():
    """GUM (JCGM 100:2008), F.2.2.1: a step d is d/√12; the difference of two readings √2 of it."""
    log = meter_log([0, HOUR], [100.0, 103.0])
    sure = sure_energy(log, [((0, HOUR), 1.0)], step_kwh=0.1)
    assert sure.u_reading == pytest.approx(0.1 / sqrt(6))
    assert (sure.kwh, sure.u_spread, sure.u_gap, sure.u_common) == (3.0, 0.0, 0.0, 0.0)


def test_readings_between_do_not_add_to_it():
    """A telescoping sum: what is read within the run enters once with + and once with −."""
    log = meter_log([0, HOUR, 2 * HOUR, 3 * HOUR], [100.0, 101.0, 104.0, 106.0])
    sure = sure_energy(log, [((0, 3 * HOUR), 1.0)], step_kwh=0.1)
    assert sure.u_reading == pytest.approx(0.1 / sqrt(6))


@pytest.mark.parametrize("seed", range(20))
def test_readings_and_class_are_those_of_the_uncertainties_library(seed):
    """Random readings, runs that overlap, a session's rest shared by mass, and a meter's class."""
    rng = np.random.default_rng(seed)
    at_us = np.cumsum(rng.integers(1, HOUR, 12))
    kwh = np.cumsum(rng.uniform(0.1, 3.0, 12))
    step_kwh, share = 0.1, class_share(1.0)
    log = meter_log(at_us.tolist(), kwh.tolist())
    session = (int(at_us[1]), int(at_us[-2]))
    spans = np.sort(rng.integers(*session, (3, 2)), axis=1) + [0, 1]
    runs = {
        key: ((int(a), int(min(b, session[1]))), int(rng.integers(1, 999)))
        for key, (a, b) in enumerate(spans)
    }
    readings = [ufloat(value, step_kwh / sqrt(12)) for value in kwh]
    factor = ufloat(1.0, share)

    def counter(moment: int):
        place = int(np.searchsorted(at_us, moment, side="right")) - 1
        place = min(place, len(at_us) - 2)
        part = float(moment - at_us[place]) / float(at_us[place + 1] - at_us[place])
        return readings[place] * (1 - part) + readings[place + 1] * part

    pieces = session_pieces(session, runs)
    split = session_energy(log, session, runs)
    for key in runs:
        expected = factor * sum(
            weight * (counter(end) - counter(start)) for (start, end), weight in pieces[key]
        )
        sure = sure_energy(log, pieces[key], step_kwh=step_kwh, common_share=share)
        assert sure.kwh == pytest.approx(split.runs[key].kwh, rel=1e-9)
        assert sure.kwh == pytest.approx(expected.nominal_value, rel=1e-9)
        assert hypot(sure.u_reading, sure.u_common) == pytest.approx(expected.std_dev, rel=1e-9)


def test_what_lies_between_two_readings_is_rectangular_at_half():
    """GUM 4.3.7: of a step s of which any part may have fallen before half time, u is s/√12."""
    log = meter_log([0, 2 * HOUR], [0.0, 6.0])
    sure = sure_energy(log, [((0, HOUR), 1.0)])
    assert sure.u_spread == pytest.approx(6.0 / sqrt(12))
    assert sure_energy(log, [((0, 2 * HOUR), 1.0)]).u_spread == 0


def test_parts_of_a_segment_are_those_of_a_dirichlet_distribution():
    """Held against correlated values of the uncertainties library, with textbook covariances.

    Johnson, Kotz, Balakrishnan (2000), ch. 49: cov = (a_i δ_ij A − a_i a_j)/(A² (A + 1)), A = 2.
    """
    shares, step = np.array([0.2, 0.3, 0.5]), 4.0
    covariance = (np.diag(shares) - np.outer(shares, shares)) / 3
    parts = correlated_values(shares.tolist(), covariance.tolist())
    expected = step * (1.0 * parts[0] + 0.25 * parts[1])
    log = meter_log([0, 10 * HOUR], [0.0, step])
    pieces = [((0, 2 * HOUR), 1.0), ((2 * HOUR, 5 * HOUR), 0.25)]
    assert sure_energy(log, pieces).u_spread == pytest.approx(expected.std_dev, rel=1e-9)


def test_time_without_a_log_could_have_taken_as_much_as_the_rest():
    log = power_log([0, HOUR, 3 * HOUR], [1000.0] * 3, max_gap_s=3600)
    sure = sure_energy(log, [((0, 3 * HOUR), 1.0)], covered=(0, 3 * HOUR))
    assert sure.kwh == pytest.approx(1.0)
    assert sure.u_gap == pytest.approx(2.0 / sqrt(3))
    assert sure_energy(log, [((0, HOUR), 1.0)], covered=(0, HOUR)).u_gap == 0


def test_rated_power_is_as_sure_as_its_share():
    """The worked example of the methods: 1.2·0.45·5 + 0.8·0.6·2.5 + 0.8·0.5 = 4.30 kWh."""
    log = rated_log(
        [
            ("dryer", 1.2, 0.45, [(0, 5 * HOUR)]),
            ("barrel", 0.8, 0.6, [(5 * HOUR, 15 * HOUR // 2)]),
            ("warm-up", 0.8, 1.0, [(8 * HOUR, 17 * HOUR // 2)]),
        ]
    )
    sure = sure_energy(log, [((0, 9 * HOUR), 1.0)], common_share=0.2)
    assert (sure.kwh, sure.u_kwh) == (pytest.approx(4.30), pytest.approx(0.86))


def test_a_class_is_a_limit_of_error():
    """IEC 62053-21:2020, table 4: ±1 % for class 1, ±2 % for class 2; GUM 4.3.7: a/√3."""
    assert class_share(1.0) == pytest.approx(ufloat(0, 0.01 / sqrt(3)).std_dev)
    assert class_share(2.0) == pytest.approx(2 * class_share(1.0))


@pytest.mark.parametrize(
    ("readings", "step"),
    [([3.0, 5.0], 1.0), ([3.1, 5.0], 0.1), ([1204.55, 1206.0], 0.01), ([0.123456, 1.0], 0.0001)],
)
def test_the_step_is_the_last_digit_that_was_written(readings, step):
    assert counter_step_kwh(readings) == step


def test_a_negative_share_or_step_is_refused():
    log = meter_log([0, HOUR], [0.0, 1.0])
    with pytest.raises(ValueError, match="step_kwh"):
        sure_energy(log, [((0, HOUR), 1.0)], step_kwh=-0.1)
    with pytest.raises(ValueError, match="common_share"):
        sure_energy(log, [((0, HOUR), 1.0)], common_share=-0.1)


def test_a_total_is_that_of_the_uncertainties_library():
    """Runs of two logs: what one log shares is one variable there, all the rest its own."""
    rng = np.random.default_rng(5)
    shared = {"one": ufloat(1.0, 0.02), "two": ufloat(1.0, 0.2)}
    expected, parts = 0.0, []
    for place in range(40):
        kwh, u_own, weight = rng.uniform(0.5, 4.0), rng.uniform(0, 0.3), rng.uniform(0, 1)
        log = "one" if place % 3 else "two"
        expected = expected + weight * (kwh * shared[log] + ufloat(0, u_own))
        u_common = kwh * shared[log].std_dev
        parts.append((Measured(kwh, hypot(u_own, u_common)), u_common, meter_of(log), weight))
    found = energy_total(parts)
    assert found.value == pytest.approx(expected.nominal_value)
    assert found.u == pytest.approx(expected.std_dev)


def test_a_common_part_is_never_larger_than_the_whole():
    with pytest.raises(ValueError, match="common part"):
        energy_total([(Measured(1.0, 0.1), 0.2, meter_of("one"), 1.0)])


@pytest.mark.parametrize("seed", range(5))
def test_shares_of_runs_add_up_to_what_a_lot_carries(seed):
    """The adjoint gives the same as the forward sums, for every lot of a random history."""
    runs, origin_mg = random_history(seed)
    lots = cumulative_energy(runs, origin_mg).lot_kwh
    for lot in list(lots)[:: max(1, len(lots) // 40)]:
        shares = carried_shares(runs, lot)
        carried = sum(a * run.energy_kwh for a, run in zip(shares, runs, strict=True))
        assert carried == pytest.approx(lots[lot], rel=1e-9, abs=1e-12)


def test_waste_carries_nothing_of_any_run():
    run = RunEnergy(2.0, {}, {"spool": 38}, {"scrap": 2})
    assert carried_shares([run], "scrap") == [0.0]


@pytest.mark.parametrize("seed", range(10))
def test_a_counter_that_was_reset_is_that_of_the_uncertainties_library(seed):
    """After a reset the counter starts from zero: the last reading before it cancels nothing."""
    rng = np.random.default_rng(seed)
    reset, step_kwh = int(rng.integers(1, 7)), 0.1
    old, new = np.cumsum(rng.uniform(0.1, 3, reset)), np.cumsum(rng.uniform(0.1, 3, 8 - reset))
    read = [ufloat(value, step_kwh / sqrt(12)) for value in (*old, *new)]
    energies = [
        read[end] if end == reset else read[end] - read[end - 1] for end in range(1, len(read))
    ]
    weights = rng.uniform(0, 1, len(energies))
    log = meter_log([place * HOUR for place in range(8)], [*old, *new], resets=[reset])
    pieces = [((place * HOUR, (place + 1) * HOUR), w) for place, w in enumerate(weights)]
    theirs = sum(w * one for w, one in zip(weights, energies, strict=True))
    sure = sure_energy(log, pieces, step_kwh=step_kwh)
    assert sure.kwh == pytest.approx(theirs.n)
    assert sure.u_reading == pytest.approx(theirs.s)


def test_rows_of_energy_per_interval_err_each_alone():
    """Twelve rows, each rounded to 0.01 kWh: √12 × d/√12 = d, not the two ends of a counter."""
    at_us = [place * HOUR for place in range(13)]
    kwh, covered = [0.25 * place for place in range(13)], at_us
    rows = stored_log(at_us, kwh, covered, "meter reading", is_each_alone=True)
    whole = [((0, 12 * HOUR), 1.0)]
    assert sure_energy(rows, whole, step_kwh=0.01).u_reading == pytest.approx(0.01)
    counter = stored_log(at_us, kwh, covered, "meter reading")
    assert sure_energy(counter, whole, step_kwh=0.01).u_reading == pytest.approx(0.01 / sqrt(6))


def test_rows_that_were_not_read_back_count_all_the_same():
    """Of a long file only the ends are read: what lies between is as many rows as fit into it."""
    hours = [0, 1, 2, 3, 9, 10, 11, 12]
    at_us = [hour * HOUR for hour in hours]
    rows = stored_log(
        at_us, [0.25 * one for one in hours], at_us, "meter reading", is_each_alone=True
    )
    sure = sure_energy(rows, [((0, 12 * HOUR), 1.0)], step_kwh=0.01)
    assert sure.u_reading == pytest.approx(0.01)


def test_files_that_are_joined_keep_what_each_is_made_of():
    rows = stored_log([0, HOUR], [0.0, 1.0], [0, HOUR], "meter reading", is_each_alone=True)
    later = stored_log([3 * HOUR, 4 * HOUR], [0.0, 1.0], [0, HOUR], "meter reading")
    joined = joined_log([later, rows])
    assert joined.figures.tolist() == [1, 0, 0]
    assert joined.is_covered.tolist() == [True, False, True]
