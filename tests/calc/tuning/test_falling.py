"""Flow that falls or rises by itself: found soon, and seldom called in vain."""

import math
import random

import pytest

from recycling.calc.tuning.falling import cumulative_sums, flow_call
from recycling.calc.tuning.flow import Event
from tests.calc.tuning.bench_logs import logs, truth


def test_sums_agree_with_the_handbook():
    # NIST/SEMATECH e-Handbook, 6.3.2.3: target 325, k = 0.3175, h = 4.1959; x̄ of 20 samples.
    # It first signals an increase at sample 14, with 4.94.
    values = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225]
    values += [324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775]
    values += [326.875, 328.350]
    high = [one for one, _low in cumulative_sums(values, 325, 0.3175)]
    assert high[12:] == pytest.approx(
        [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.011
    )
    assert next(i for i, one in enumerate(high, 1) if one > 4.1959) == 14


@pytest.mark.slow
def test_run_length_of_a_steady_process():
    # NIST/SEMATECH e-Handbook, 6.3.2.3.1: h = 4, k = 0.5, no shift: 336 points on one side
    chance, lengths = random.Random(2), []
    for _ in range(400):
        sums = cumulative_sums([chance.gauss(0, 1) for _ in range(2500)], 0.0, 0.5)
        lengths.append(next((i for i, (high, _) in enumerate(sums, 1) if high > 4), 2500))
    assert sum(lengths) / len(lengths) == pytest.approx(336, rel=0.12)


def first_call(events):
    """Find the first call of a log, each reading judged as it came."""
    calls = (flow_call(events, one.minutes) for one in events if one.diameters_mm)
    return next((call for call in calls if call), None)


def test_faults_of_logs_made_elsewhere_are_called():
    known, all_logs, early = truth()["faults"], logs(), 0
    for name, fault in known.items():
        call = first_call(all_logs[name])
        if fault["fault"] == "none":
            assert call is None, name
            continue
        assert call is not None, name
        assert call.falls
        early += call.minutes < fault["at_minutes"]
        assert call.minutes <= fault["at_minutes"] + 30, name
    assert early <= 2


def steady(seed, hours=8.0):
    """A healthy machine: it wanders, is refilled each half hour, and is read every five minutes."""
    chance, ln_flow, events = random.Random(seed), 0.0, [Event(0, puller_mm_s=35.0)]
    scatter = chance.uniform(0.01, 0.06)
    for step in range(1, round(12 * hours) + 1):
        ln_flow += chance.gauss(0, 0.008 * math.sqrt(0.5))
        if step % 6 == 0:
            ln_flow += chance.gauss(0, 0.012)
        off, read = 0.0, []
        for _ in range(10):
            off = 0.4 * off + chance.gauss(0, scatter * math.sqrt(1 - 0.16))
            read.append(1.75 * math.exp(ln_flow / 2) + off)
        events.append(Event(5 * step, diameters_mm=tuple(read)))
    return events


@pytest.mark.slow
def test_a_healthy_machine_is_called_at_most_once_in_thirty_hours():
    runs, hours = 64, 8
    calls = sum(first_call(steady(seed, hours)) is not None for seed in range(runs))
    assert calls <= runs * hours / 30


def test_a_bridge_is_called_within_fifteen_minutes():
    for seed in range(12):
        events = steady(seed, 2.0)
        bridged = [
            Event(one.minutes, diameters_mm=tuple(d * 0.6 for d in one.diameters_mm))
            if one.minutes > 60
            else one
            for one in events
        ]
        call = first_call(bridged)
        assert call is not None
        assert call.minutes <= 75
        assert call.ratio < 0.6


def test_a_change_of_a_setting_is_no_fault():
    events = [Event(0, puller_mm_s=35, screw_rpm=30)]
    events += [Event(5 * i, diameters_mm=(1.74, 1.75, 1.76)) for i in range(1, 9)]
    events.append(Event(41, puller_mm_s=60))
    events += [Event(40 + 5 * i, diameters_mm=(1.33, 1.34, 1.35)) for i in range(1, 9)]
    assert first_call(events) is None


def test_a_call_is_taken_back_when_it_is_not_confirmed():
    events = [Event(0, puller_mm_s=35)]
    events += [Event(5 * i, diameters_mm=(1.75,) * 5) for i in range(1, 9)]
    low = Event(45, diameters_mm=(1.55,) * 5)
    assert flow_call([*events, low], 45).since == 40
    back = [Event(45 + 5 * i, diameters_mm=(1.75,) * 5) for i in range(1, 4)]
    assert flow_call([*events, low, *back], 60) is None


def test_a_strand_that_does_not_come_is_called_at_once():
    events = [Event(0, puller_mm_s=35), Event(5, diameters_mm=(1.75, 1.76))]
    call = flow_call([*events, Event(10, diameters_mm=(0.0,))], 10)
    assert (call.minutes, call.since, call.falls, call.ratio) == (10, 5, True, 0.0)
