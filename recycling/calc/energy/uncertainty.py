"""How sure energy is: a meter's steps and class, power that was not logged, a share of ratings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from recycling.calc.energy.intervals import METER, EnergyLog, Span, energy_between, require_span
from recycling.calc.guards import not_negative

WEIGHTED = tuple[Span, float]
FINEST_DECIMALS = 4


@dataclass(frozen=True)
class SureEnergy:
    """Energy with how sure it is; standard uncertainties, kWh.

    kwh: the energy. u_reading: of the steps of a meter. u_spread: of power between two readings
    that is not known. u_gap: of time no log covers. u_common: of what all energy from the log
    shares, the class of the meter or how well rated power is known.
    """

    kwh: float
    u_reading: float
    u_spread: float
    u_gap: float
    u_common: float

    @property
    def u_own(self) -> float:
        """Standard uncertainty of what is this energy's own, without the common part, kWh."""
        return hypot(self.u_reading, self.u_spread, self.u_gap)

    @property
    def u_kwh(self) -> float:
        """Combined standard uncertainty, kWh."""
        return hypot(self.u_own, self.u_common)


def class_share(class_percent: float) -> float:
    """Relative standard uncertainty of a meter whose limit of error is its class: c/(100·√3).

    Parameters
    ----------
    class_percent : limit of error, percent of what is counted; 1 for class 1.

    Returns
    -------
    float
        Relative standard uncertainty (k = 1).

    Raises
    ------
    ValueError
        If the class is negative or not finite.

    Examples
    --------
    >>> round(class_share(1.0), 6)
    0.005774

    References
    ----------
    .. [1] IEC 62053-21:2020, table 4: class 1 is within ±1 % at unity power factor.
    .. [2] JCGM 100:2008 (GUM), 4.3.7: a rectangular distribution, a/√3.
    """
    return not_negative("class_percent", class_percent) / (100 * sqrt(3))


def counter_step_kwh(counted_kwh: Sequence[float] | np.ndarray) -> float:
    """Give the step of a counter that its readings were written with, where nobody stated it.

    Parameters
    ----------
    counted_kwh : readings, or what was counted since the first one, kWh.

    Returns
    -------
    float
        The largest of 1, 0.1, 0.01, 0.001 and 0.0001 kWh of which all are multiples; the last
        where none is.

    Examples
    --------
    >>> counter_step_kwh([1204.5, 1206.0, 1210.25])
    0.01

    References
    ----------
    .. [1] Common practice: a reading is sure to its last digit.
    """
    counted = np.asarray(counted_kwh, dtype=float)
    for decimals in range(FINEST_DECIMALS):
        if np.allclose(counted, np.round(counted, decimals), rtol=0, atol=10.0 ** -(decimals + 4)):
            return float(10.0**-decimals)
    return float(10.0**-FINEST_DECIMALS)


def sure_energy(
    log: EnergyLog,
    pieces: Iterable[WEIGHTED],
    *,
    step_kwh: float = 0.0,
    common_share: float = 0.0,
    covered: Span | None = None,
) -> SureEnergy:
    """Energy of weighted pieces of a log, E = Σ w_p E_p, with its standard uncertainty.

    *Readings.* With W_j the share of segment j that counts, a reading y_i enters with W_(i-1) −
    W_i; each is sure to its step d: u² = d²/12 Σ (W_(i-1) − W_i)². A segment that counts from
    zero, after a reset or in a file of energy per interval, owes nothing to the reading before
    it: W_i is left out there, and each of its n figures errs alone, (n − 1) W_i² more. *Spread.*
    Between two readings only their difference s is known. The parts of it that fall into the
    pieces are taken as Dirichlet distributed with the even spread as mean and the concentration
    that makes half a segment rectangular: u² = Σ s² (Σ w² g − (Σ w g)²)/3, g being shares of the
    segment. *Gap.* Time of `covered` for which the log does not speak could have taken what the
    covered time took on average, or nothing: u = P t/√3. *Common.* u = E times `common_share`.
    Weights are taken as exact: where energy is shared by mass, how sure the masses are is left
    out.

    Readings and spread are of a meter's log only.

    Parameters
    ----------
    log : the log.
    pieces : (start and end in µs, weight from 0 to 1); pieces do not overlap.
    step_kwh : step of the meter's counter, kWh.
    common_share : relative standard uncertainty of all energy of the log.
    covered : start and end, µs, of the time that the log should speak for; none leaves gaps out.

    Raises
    ------
    ValueError
        If a piece does not run forward, or step or share are negative.

    Examples
    --------
    >>> from recycling.calc.energy.logs import meter_log
    >>> log = meter_log([0, 60, 120], [10.0, 11.0, 13.0])
    >>> half = sure_energy(log, [((0, 30), 1.0)], step_kwh=0.1, common_share=0.01)
    >>> half.kwh, round(half.u_spread, 6), round(half.u_reading, 6), half.u_common
    (0.5, 0.288675, 0.020412, 0.005)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (bounds), 5.1.2 and 5.2.2 (combination), F.2.2.1 (steps).
    .. [2] Johnson, Kotz, Balakrishnan (2000), Continuous Multivariate Distributions 1, ch. 49.
    """
    not_negative("step_kwh", step_kwh)
    not_negative("common_share", common_share)
    weighted = list(pieces)
    kwh = 0.0
    for span, weight in weighted:
        require_span(*span)
        kwh += weight * energy_between(log, *span).kwh
    u_reading = u_spread = 0.0
    if log.method == METER:
        u_reading, u_spread = _of_a_meter(log, weighted, step_kwh)
    return SureEnergy(kwh, u_reading, u_spread, _of_gaps(log, covered), common_share * abs(kwh))


def _of_a_meter(log: EnergyLog, pieces: list[WEIGHTED], step_kwh: float) -> tuple[float, float]:
    length_us, steps = np.diff(log.at_us), np.diff(log.kwh)
    once, twice = np.zeros(len(steps)), np.zeros(len(steps))
    for (start, end), weight in pieces:
        first = max(0, int(np.searchsorted(log.at_us, start, side="right")) - 1)
        last = int(np.searchsorted(log.at_us, end, side="left"))
        inside = slice(first, max(first, min(last, len(steps))))
        begins = np.maximum(log.at_us[:-1][inside], start)
        ends = np.minimum(log.at_us[1:][inside], end)
        part = np.maximum(ends - begins, 0) / length_us[inside]
        once[inside] += weight * part
        twice[inside] += weight**2 * part
    figures = np.zeros(len(steps)) if log.figures is None else log.figures
    owed = np.where(figures > 0, 0.0, once)
    turns = np.append(owed, 0.0) - np.insert(once, 0, 0.0)
    alone = np.maximum(figures - 1, 0) * once**2
    u_reading = step_kwh / sqrt(12) * float(np.sqrt((turns**2).sum() + alone.sum()))
    spread = steps**2 * np.maximum(twice - once**2, 0.0) / 3
    return u_reading, float(np.sqrt(spread.sum()))


def _of_gaps(log: EnergyLog, covered: Span | None) -> float:
    if covered is None:
        return 0.0
    whole = energy_between(log, *covered)
    if not 0 < whole.covered_s < whole.span_s:
        return 0.0
    return whole.kwh / whole.covered_s * (whole.span_s - whole.covered_s) / sqrt(3)
