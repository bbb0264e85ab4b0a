"""Whether what a machine loses creeps away from what was usual: what learning would swallow.

A band that learns gets used to a slow change. So the run's own band is compared with what it left
over: z = (r − mean)/sd, smoothed by an exponentially weighted moving average, λ = 0.2, whose
limits are 3·√(λ/(2 − λ)·(1 − (1 − λ)^(2n))) [1]_.

Sources
-------
.. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, EWMA control charts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

LAMBDA = 0.2
LIMIT = 3.0
LEAST_RUNS = 8
"""Runs of a machine before its losses may be said to have moved (own choice: not checked)."""

LATEST = 5
"""Over so many runs the share that is lost now is taken: the memory of the average, 1/λ."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A run in the order of time: what went in, was left over, was expected, and its sd, mg."""

    went_in_mg: float
    unaccounted_mg: float
    mean_mg: float
    sd_mg: float

    @property
    def z(self) -> float:
        """How far it lies from what was expected, in standard deviations; at most five."""
        away = (self.unaccounted_mg - self.mean_mg) / self.sd_mg if self.sd_mg else 0.0
        return max(min(away, 5.0), -5.0)


@dataclass(frozen=True, slots=True)
class Drift:
    """What a machine loses now, what was expected of it, as shares, and the average."""

    now: float
    before: float
    average: float


def ewma(values: Sequence[float], lam: float = LAMBDA) -> float:
    """Smooth values from zero: E = λ·z + (1 − λ)·E before.

    Examples
    --------
    >>> round(ewma([1.0, 1.0]), 2)
    0.36
    """
    found = 0.0
    for value in values:
        found = lam * value + (1 - lam) * found
    return found


def drift(runs: Sequence[Judged]) -> Drift | None:
    """Say whether a machine's losses have moved; None where they have not, or runs are few.

    `runs` are its closed runs in the order in which they ended, each with the band of those before
    it.

    Examples
    --------
    >>> steady = [Judged(1e6, 20e3 + 5e3 * (-1) ** n, 20e3, 8e3) for n in range(20)]
    >>> drift(steady) is None
    True
    >>> worn = steady + [Judged(1e6, 40e3, 22e3, 9e3)] * 8
    >>> found = drift(worn)
    >>> round(found.now, 3), round(found.before, 3)
    (0.04, 0.022)
    """
    n = len(runs)
    if n < LEAST_RUNS:
        return None
    average = ewma([one.z for one in runs])
    limit = LIMIT * math.sqrt(LAMBDA / (2 - LAMBDA) * (1 - (1 - LAMBDA) ** (2 * n)))
    latest = runs[-LATEST:]
    went_in_mg = sum(one.went_in_mg for one in latest)
    if abs(average) <= limit or went_in_mg <= 0:
        return None
    now = sum(one.unaccounted_mg for one in latest) / went_in_mg
    return Drift(now, sum(one.mean_mg for one in latest) / went_in_mg, average)
