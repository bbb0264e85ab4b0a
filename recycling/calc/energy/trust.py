"""Which log an interval's energy is taken from, and what none of them covers."""

from collections.abc import Iterable

import numpy as np

from recycling.calc.energy.intervals import (
    METER,
    TRUST,
    US_PER_S,
    Energy,
    EnergyLog,
    Span,
    TrustedEnergy,
    energy_between,
    require_span,
)


def uncovered_spans(log: EnergyLog, start_us: int, end_us: int) -> list[Span]:
    """Times within an interval for which the log does not speak, longest possible pieces.

    Parameters
    ----------
    log : the log.
    start_us, end_us : the interval, whole microseconds since 1970 in UTC.

    Returns
    -------
    list of (int, int)
        Start and end of each, µs, in time order.

    Raises
    ------
    ValueError
        If the end is not after the start.

    Examples
    --------
    >>> from recycling.calc.energy.logs import power_log
    >>> log = power_log([10, 20, 900, 910], [1.0] * 4, max_gap_s=0.0001)
    >>> uncovered_spans(log, 0, 905)
    [(0, 10), (20, 900)]

    References
    ----------
    .. [1] Closed form: the complement of a union of intervals.
    """
    require_span(start_us, end_us)
    gap = np.flatnonzero(~log.is_covered)
    far = np.iinfo(np.int64)
    starts = [far.min, *log.at_us[gap].tolist(), int(log.at_us[-1])]
    ends = [int(log.at_us[0]), *log.at_us[gap + 1].tolist(), far.max]
    spans: list[Span] = []
    for gap_start, gap_end in zip(starts, ends, strict=True):
        start, end = max(gap_start, start_us), min(gap_end, end_us)
        if start < end and spans and spans[-1][1] == start:
            spans[-1] = (spans[-1][0], end)
        elif start < end:
            spans.append((start, end))
    return spans


def trusted_energy(
    logs: Iterable[EnergyLog], start_us: int, end_us: int, *, fill_gaps: bool = False
) -> TrustedEnergy:
    """Energy of an interval from the most trusted log that covers any of it.

    Order of trust: meter reading, power log, rated power. A gap stays a gap, told by the coverage,
    unless `fill_gaps` asks for the next source in order; each source's part is then shown apart.

    Parameters
    ----------
    logs : logs of one machine, at most one of each method.
    start_us, end_us : the interval, whole microseconds since 1970 in UTC.
    fill_gaps : whether uncovered time is looked up in the next source.

    Returns
    -------
    TrustedEnergy
        Parts in order of trust, none if no log covers any of it.

    Raises
    ------
    ValueError
        If the end is not after the start, or two logs have the same method.

    Examples
    --------
    >>> from recycling.calc.energy.logs import meter_log, rated_log
    >>> hour = 3_600_000_000
    >>> meter = meter_log([0, hour], [5.0, 6.0])
    >>> rated = rated_log([("heater", 2.0, 0.25, [(0, 3 * hour)])])
    >>> trusted_energy([rated, meter], 0, 2 * hour).coverage
    0.5
    >>> [part.kwh for part in trusted_energy([rated, meter], 0, 2 * hour, fill_gaps=True).parts]
    [1.0, 0.5]

    References
    ----------
    .. [1] Common practice: what is measured before what is estimated.
    """
    ordered = sorted(logs, key=lambda log: TRUST.index(log.method))
    if len({log.method for log in ordered}) < len(ordered):
        raise ValueError("two logs of the same method: join them, or choose one")
    require_span(start_us, end_us)
    parts: list[Energy] = []
    spans = [(start_us, end_us)]
    for log in ordered:
        found = [energy_between(log, *span) for span in spans]
        covered_s = sum(part.covered_s for part in found)
        if covered_s and (fill_gaps or not parts):
            kwh = sum(part.kwh for part in found)
            parts.append(Energy(kwh, covered_s, covered_s, log.method))
            spans = [gap for span in spans for gap in uncovered_spans(log, *span)]
        if not spans:
            break
    return TrustedEnergy(
        tuple(parts), sum(part.covered_s for part in parts), (end_us - start_us) / US_PER_S
    )


def meter_bounds_kwh(log: EnergyLog, start_us: int, end_us: int) -> tuple[float, float]:
    """Least and most energy that a meter's readings allow for an interval.

    Least: the steps between readings that lie wholly inside; most: all that touch it. The even
    spread of `energy_between` lies between the two.

    Parameters
    ----------
    log : a log made by `meter_log`.
    start_us, end_us : the interval, whole microseconds since 1970 in UTC.

    Returns
    -------
    tuple of float
        Least and most, kWh.

    Raises
    ------
    ValueError
        If the end is not after the start, or the log is not a meter's.

    Examples
    --------
    >>> from recycling.calc.energy.logs import meter_log
    >>> meter_bounds_kwh(meter_log([0, 10, 20, 30], [0.0, 1.0, 3.0, 4.0]), 5, 25)
    (2.0, 4.0)

    References
    ----------
    .. [1] Closed form: a counter never falls.
    """
    if log.method != METER:
        raise ValueError(f"bounds need a meter reading, not a {log.method}")
    require_span(start_us, end_us)
    step = np.diff(log.kwh)
    first, last = log.at_us[:-1], log.at_us[1:]
    inside = (first >= start_us) & (last <= end_us)
    touching = (last > start_us) & (first < end_us)
    return float(step[inside].sum()), float(step[touching].sum())
