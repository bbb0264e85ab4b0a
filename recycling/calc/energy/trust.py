"""Which log an interval's energy is taken from, and what none of them covers."""

import numpy as np

from recycling.calc.energy.intervals import (
    METER,
    EnergyLog,
    require_span,
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
