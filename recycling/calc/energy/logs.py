"""Logs of energy: from a meter's counter, from power samples, from rated power and logged time."""

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from recycling.calc.energy.intervals import (
    METER,
    MICROJOULE_PER_KWH,
    POWER,
    RATED,
    US_PER_S,
    EnergyLog,
    Span,
    require_span,
)
from recycling.calc.guards import not_negative, positive, share

Rule = Literal["trapezoid", "step"]


def _moments(at_us: Iterable[int], what: str) -> np.ndarray:
    moments = np.asarray(at_us)
    if moments.ndim != 1 or len(moments) < 2:
        raise ValueError(f"at least two {what}s are needed, got {moments.size}")
    if moments.dtype.kind not in "iu":
        raise ValueError(f"moments of {what}s must be whole microseconds")
    moments = moments.astype(np.int64)
    late = np.flatnonzero(np.diff(moments) <= 0)
    if late.size:
        raise ValueError(f"{what} {late[0] + 2} is not later than {what} {late[0] + 1}")
    return moments


def _amounts(values: Iterable[float], count: int, what: str) -> np.ndarray:
    amounts = np.asarray(values, dtype=np.float64)
    if amounts.shape != (count,):
        raise ValueError(f"{count} moments but {amounts.size} {what}s")
    bad = np.flatnonzero(~(np.isfinite(amounts) & (amounts >= 0)))
    if bad.size:
        raise ValueError(f"{what} {bad[0] + 1} is not a number from zero up: {amounts[bad[0]]}")
    return amounts


def _accumulate(method, at_us, start_w, end_w, is_covered) -> EnergyLog:
    length_us = np.where(is_covered, np.diff(at_us), 0)
    kwh = (start_w + end_w) * (length_us / (2 * MICROJOULE_PER_KWH))
    return EnergyLog(
        method,
        at_us,
        start_w,
        end_w,
        is_covered,
        np.concatenate(([0.0], np.cumsum(kwh))),
        np.concatenate(([0], np.cumsum(length_us))),
    )


def _require_rising(readings: np.ndarray, step: np.ndarray) -> None:
    fall = np.flatnonzero(step < 0)
    if fall.size:
        i = int(fall[0])
        raise ValueError(
            f"reading {i + 2} ({readings[i + 1]:g} kWh) is below the one before it "
            f"({readings[i]:g} kWh): say whether the meter was reset, exchanged or rolled over"
        )


def dial_kwh(before_kwh: float) -> float:
    """Where a dial begins again that showed this reading, kWh, before it ran over: a power of ten.

    Raises ValueError for a negative or not finite reading.

    Examples
    --------
    >>> dial_kwh(99998.0), dial_kwh(0.4)
    (100000.0, 1.0)
    """
    return 10.0 ** len(f"{int(before_kwh)}") if positive("before_kwh", before_kwh) >= 1 else 1.0


def running_on(rows: Iterable[tuple[float, bool, bool]]) -> list[float]:
    """Readings of a counter, kWh, as if its dial had no end.

    Parameters
    ----------
    rows : (reading in kWh, counts from zero, ran over), in time order.

    Returns
    -------
    list of float
        Readings with the dial added for each time that it ran over since it counted from zero.

    Examples
    --------
    >>> running_on([(99990.0, False, False), (3.0, False, True), (9.0, False, False)])
    [99990.0, 100003.0, 100009.0]
    """
    found: list[float] = []
    added, before = 0.0, 0.0
    for reading, from_zero, ran_over in rows:
        if from_zero:
            added = 0.0
        elif ran_over and found and reading < before:
            added += dial_kwh(before)
        found.append(reading + added)
        before = reading
    return found


def unroll_counter(
    reading_kwh: Sequence[float] | np.ndarray,
    *,
    rollover_kwh: float | None = None,
    resets: Iterable[int] = (),
) -> np.ndarray:
    """Energy counted since the first reading of a counter that may roll over or be reset.

    A fall is never guessed at. It is a reset only at a position in `resets` (the first reading
    after it, counted from 0): the counter then started from zero, and what it counted between the
    last reading and the reset is lost, so the figure is a lower bound. It is a rollover where
    `rollover_kwh` is given and the step across zero is under half the dial.

    Parameters
    ----------
    reading_kwh : readings in time order, kWh.
    rollover_kwh : the value at which the dial shows zero again, kWh.
    resets : positions of first readings after a confirmed reset or exchange of the meter.

    Returns
    -------
    numpy.ndarray
        kWh since the first reading: sum of y_i - y_(i-1), or y_i after a reset, or
        rollover - y_(i-1) + y_i over a rollover.

    Raises
    ------
    ValueError
        If a reading is negative, not finite or above the dial, a reset position is not in the
        list, or the counter falls without a confirmed reset or a plausible rollover.

    Examples
    --------
    >>> unroll_counter([99990.0, 99998.0, 3.0], rollover_kwh=100000).tolist()
    [0.0, 8.0, 13.0]
    >>> unroll_counter([50.0, 52.0, 1.5], resets=[2]).tolist()
    [0.0, 2.0, 3.5]

    References
    ----------
    .. [1] Common practice: differences of a running counter.
    """
    readings = _amounts(reading_kwh, len(reading_kwh), "reading")
    step = np.diff(readings)
    after_reset = sorted(set(resets))
    if after_reset and not 1 <= after_reset[0] <= after_reset[-1] < len(readings):
        raise ValueError(f"a reset is named at a position outside 1 to {len(readings) - 1}")
    for position in after_reset:
        step[position - 1] = readings[position]
    if rollover_kwh is not None:
        if readings.max() >= positive("rollover_kwh", rollover_kwh):
            raise ValueError(f"a reading is not below the dial's {rollover_kwh} kWh")
        rolled = (step < 0) & (step + rollover_kwh < rollover_kwh / 2)
        step[rolled] += rollover_kwh
    _require_rising(readings, step)
    return np.concatenate(([0.0], np.cumsum(step)))


def meter_log(
    at_us: Iterable[int],
    reading_kwh: Sequence[float],
    *,
    rollover_kwh: float | None = None,
    resets: Iterable[int] = (),
) -> EnergyLog:
    """Log of a meter's counter; between two readings energy is spread evenly over time.

    The counter runs on between readings, so the log covers all from first to last reading. How
    much the even spread could be wrong for an interval is told by `meter_bounds_kwh`.

    Parameters
    ----------
    at_us : moments of the readings, whole microseconds since 1970 in UTC, increasing.
    reading_kwh : the readings, kWh.
    rollover_kwh, resets : as in `unroll_counter`.

    Raises
    ------
    ValueError
        With fewer than two readings, moments that do not increase, or as `unroll_counter`.

    Examples
    --------
    >>> log = meter_log([0, 3_600_000_000], [10.0, 12.0])
    >>> from recycling.calc.energy.intervals import energy_between
    >>> energy_between(log, 0, 1_800_000_000).kwh
    1.0

    References
    ----------
    .. [1] Common practice: differences of a running counter.
    """
    moments = _moments(at_us, "reading")
    _amounts(reading_kwh, len(moments), "reading")
    resets = sorted(set(resets))
    kwh = unroll_counter(reading_kwh, rollover_kwh=rollover_kwh, resets=resets)
    figures = np.zeros(len(moments) - 1, dtype=np.int64)
    figures[[place - 1 for place in resets]] = 1
    power_w = np.diff(kwh) * MICROJOULE_PER_KWH / np.diff(moments)
    is_covered = np.ones(len(power_w), dtype=bool)
    covered_us = moments - moments[0]
    return EnergyLog(METER, moments, power_w, power_w, is_covered, kwh, covered_us, figures)


def power_log(
    at_us: Iterable[int],
    power_w: Sequence[float] | np.ndarray,
    *,
    max_gap_s: float,
    rule: Rule = "trapezoid",
) -> EnergyLog:
    """Log of power samples at irregular moments; a gap stays a gap.

    *trapezoid*: power runs straight from sample to sample, E = sum (P_i + P_(i+1))/2 (t_(i+1) -
    t_i). *step*: a sample holds until the next one, E = sum P_i (t_(i+1) - t_i). Two samples more
    than `max_gap_s` apart leave the time between them uncovered, without energy.

    Parameters
    ----------
    at_us : moments of the samples, whole microseconds since 1970 in UTC, increasing.
    power_w : power, W.
    max_gap_s : longest time between samples that still counts as covered, s.
    rule : how power runs between two samples.

    Raises
    ------
    ValueError
        With fewer than two samples, moments that do not increase, power that is negative or not
        finite, a rule of another name, or a gap limit that is not positive.

    Examples
    --------
    >>> log = power_log([0, 60_000_000, 120_000_000], [0.0, 600.0, 600.0], max_gap_s=60)
    >>> round(1000 * float(log.kwh[-1]), 6)
    15.0

    References
    ----------
    .. [1] Abramowitz and Stegun (1964), 25.4.2: the trapezoidal rule.
    """
    if rule not in ("trapezoid", "step"):
        raise ValueError(f"rule must be trapezoid or step, not {rule}")
    positive("max_gap_s", max_gap_s)
    moments = _moments(at_us, "sample")
    power = _amounts(power_w, len(moments), "power")
    is_covered = np.diff(moments) <= max_gap_s * US_PER_S
    start_w = power[:-1]
    return _accumulate(
        POWER, moments, start_w, power[1:] if rule == "trapezoid" else start_w, is_covered
    )


def rated_energy_kwh(rated_kw: float, duty: float, logged_h: float) -> float:
    """Energy of a part from its rated power, duty and logged time: E = P d t.

    Parameters
    ----------
    rated_kw : rated power, kW.
    duty : share of the logged time in which the part draws it, from 0 to 1.
    logged_h : logged time, h.

    Returns
    -------
    float
        Energy, kWh.

    Raises
    ------
    ValueError
        If power or time is negative or not finite, or duty is outside 0 to 1.

    Examples
    --------
    >>> round(rated_energy_kwh(1.2, 0.45, 5), 6)
    2.7

    References
    ----------
    .. [1] Common practice: rated power, duty and operating hours.
    """
    not_negative("rated_kw", rated_kw)
    not_negative("logged_h", logged_h)
    return rated_kw * share("duty", duty) * logged_h


def rated_log(parts: Iterable[tuple[str, float, float, Sequence[Span]]]) -> EnergyLog:
    """Log from rated power × duty of each part over its logged times.

    Parts add up where their times overlap. Time in which no part is logged is not covered: off and
    forgotten look the same.

    Parameters
    ----------
    parts : (name, rated power in kW, duty from 0 to 1, logged times as (start, end) in µs).

    Raises
    ------
    ValueError
        If nothing is logged, an end is not after its start, two times of one part overlap (they
        would count twice), or as `rated_energy_kwh`.

    Examples
    --------
    >>> hour = 3_600_000_000
    >>> parts = [("heater", 1.2, 0.5, [(0, 2 * hour)]), ("fan", 0.4, 1, [(hour, 3 * hour)])]
    >>> log = rated_log(parts)
    >>> from recycling.calc.energy.intervals import energy_between
    >>> energy_between(log, 0, 4 * hour)
    Energy(kwh=2.0, covered_s=10800.0, span_s=14400.0, method='rated power')

    References
    ----------
    .. [1] Common practice: rated power, duty and operating hours.
    """
    power_w: list[tuple[int, int, float]] = []
    last_end: dict[str, int] = {}
    for name, rated_kw, duty, spans in parts:
        mean_w = 1000 * rated_energy_kwh(rated_kw, duty, 1.0)
        for start, end in sorted(spans):
            require_span(start, end, f"a logged time of {name}")
            if start < last_end.get(name, start):
                raise ValueError(f"two logged times of {name} overlap")
            last_end[name] = end
            power_w.append((start, end, mean_w))
    if not power_w:
        raise ValueError("no logged time")
    moments = np.unique([edge for start, end, _ in power_w for edge in (start, end)])
    on_w = np.zeros(len(moments) - 1)
    is_covered = np.zeros(len(moments) - 1, dtype=bool)
    for start, end, mean_w in power_w:
        inside = slice(*np.searchsorted(moments, (start, end)))
        on_w[inside] += mean_w
        is_covered[inside] = True
    return _accumulate(RATED, moments, on_w, on_w, is_covered)
