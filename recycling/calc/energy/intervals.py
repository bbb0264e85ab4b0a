"""Energy of an interval: from a meter's counter, a power log, or rated power and logged time.

All three become one shape, an `EnergyLog`: energy and covered time accumulated at moments, so that
an interval is the difference of two look-ups. Moments are whole microseconds since 1970 in UTC.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

METER, POWER, RATED = "meter reading", "power log", "rated power"
TRUST = (METER, POWER, RATED)
US_PER_S = 1_000_000
MICROJOULE_PER_KWH = 3.6e12
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Span = tuple[int, int]


@dataclass(frozen=True)
class Energy:
    """Energy of an interval, with how much of the interval the log covers.

    kwh: energy in the covered time. covered_s: seconds the log speaks for. span_s: seconds asked
    for. method: one of `TRUST`. `coverage` is covered_s / span_s.
    """

    kwh: float
    covered_s: float
    span_s: float
    method: str

    @property
    def coverage(self) -> float:
        """Share of the interval that is covered, from 0 to 1."""
        return self.covered_s / self.span_s


@dataclass(frozen=True, eq=False)
class EnergyLog:
    """Energy accumulated at moments.

    at_us: strictly increasing moments. start_w, end_w: power at both ends of each of the segments
    between them (one fewer than moments), straight in between. is_covered: whether the log speaks
    for the segment. kwh, covered_us: accumulated up to each moment. figures: how many figures that
    count from zero make up each segment, as rows of energy per interval or a counter that was
    reset; 0 for the difference of two readings; none where all are such differences.
    """

    method: str
    at_us: np.ndarray
    start_w: np.ndarray
    end_w: np.ndarray
    is_covered: np.ndarray
    kwh: np.ndarray
    covered_us: np.ndarray
    figures: np.ndarray | None = None


def epoch_us(moment: datetime) -> int:
    """Whole microseconds since 1970-01-01T00:00Z of an aware moment.

    Raises
    ------
    ValueError
        If the moment has no UTC offset: a wall clock alone does not say when.

    Examples
    --------
    >>> epoch_us(datetime(2025, 3, 1, tzinfo=UTC))
    1740787200000000

    References
    ----------
    .. [1] IEEE Std 1003.1-2017, Base Definitions, 4.16 Seconds Since the Epoch.
    """
    if moment.utcoffset() is None:
        raise ValueError(f"{moment.isoformat()} has no UTC offset")
    return (moment - EPOCH) // timedelta(microseconds=1)


def require_span(start_us: int, end_us: int, what: str = "the interval") -> None:
    """Raise ValueError, with the name, unless the end (µs) is after the start (µs).

    Examples
    --------
    >>> require_span(0, 1)
    """
    if not end_us > start_us:
        raise ValueError(f"the end of {what} is not after its start")


def accumulated_at(log: EnergyLog, at_us: Iterable[int]) -> tuple[np.ndarray, np.ndarray]:
    """Energy and covered time that a log has accumulated at any moments.

    Inside a segment of length T: E(t) = E_i + P_i t + (P_(i+1) - P_i) t²/(2T). Before the first
    moment both are zero, after the last one they stay.

    Parameters
    ----------
    log : the log.
    at_us : moments, whole microseconds since 1970 in UTC.

    Returns
    -------
    tuple of numpy.ndarray
        Accumulated kWh, and accumulated covered µs.

    Raises
    ------
    ValueError
        If a moment is not a whole number.

    Examples
    --------
    >>> from recycling.calc.energy.logs import power_log
    >>> log = power_log([0, 3_600_000_000], [0.0, 1000.0], max_gap_s=3600)
    >>> kwh, covered_us = accumulated_at(log, [1_800_000_000])
    >>> float(kwh[0]), int(covered_us[0])
    (0.125, 1800000000)

    References
    ----------
    .. [1] Abramowitz and Stegun (1964), 25.2.1: straight-line interpolation, integrated.
    """
    moments = np.asarray(at_us)
    if moments.dtype.kind not in "iu":
        raise ValueError("moments must be whole microseconds")
    moments = np.clip(moments.astype(np.int64), log.at_us[0], log.at_us[-1])
    i = np.clip(np.searchsorted(log.at_us, moments, side="right") - 1, 0, len(log.start_w) - 1)
    into_us = np.where(log.is_covered[i], moments - log.at_us[i], 0)
    fraction = into_us / (log.at_us[i + 1] - log.at_us[i])
    mean_w = log.start_w[i] + (log.end_w[i] - log.start_w[i]) * fraction / 2
    return log.kwh[i] + mean_w * into_us / MICROJOULE_PER_KWH, log.covered_us[i] + into_us


def energy_between(log: EnergyLog, start_us: int, end_us: int) -> Energy:
    """Energy of the overlap of a log with an interval, and how much of it is covered.

    Parameters
    ----------
    log : the log.
    start_us, end_us : the interval, whole microseconds since 1970 in UTC.

    Returns
    -------
    Energy
        kWh in the covered time, covered and asked seconds.

    Raises
    ------
    ValueError
        If the end is not after the start.

    Examples
    --------
    >>> from recycling.calc.energy.logs import power_log
    >>> log = power_log([0, 3_600_000_000], [1000.0, 1000.0], max_gap_s=3600)
    >>> energy_between(log, 1_800_000_000, 5_400_000_000)
    Energy(kwh=0.5, covered_s=1800.0, span_s=3600.0, method='power log')

    References
    ----------
    .. [1] Closed form: the integral of power over the overlap.
    """
    require_span(start_us, end_us)
    kwh, covered_us = accumulated_at(log, [start_us, end_us])
    return Energy(
        float(kwh[1] - kwh[0]),
        int(covered_us[1] - covered_us[0]) / US_PER_S,
        (end_us - start_us) / US_PER_S,
        log.method,
    )
