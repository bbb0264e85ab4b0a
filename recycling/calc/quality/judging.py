"""Whether measured values show a product good: passed, failed, or not judged.

Nothing passes by default: where readings are too few, or lie where the gauge cannot tell, the
answer is *not judged*.

Sources
-------
.. [1] ISO 14253-1:2017: passed inside the tolerance less U, failed beyond the tolerance plus U.
.. [2] Clopper and Pearson (1934), Biometrika 26: exact limits of a share. Without a value outside
   the lower limit is (1 − c)^(1/n) (Wilks 1941).
.. [3] ISO 16269-6:2014: statistical tolerance interval of a normal distribution of which neither
   mean nor standard deviation is known.
.. [4] Ryan and Joiner (1976): normal probability plots and tests for normality; the least
   correlation of a plot that is straight, at 5 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import betaincinv, chdtrc, ndtr, ndtri

from recycling.calc.guards import not_negative, positive, some


class Answer(StrEnum):
    """What a check says of a product."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_JUDGED = "not judged"


class Why(StrEnum):
    """Why a check says so."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    TOO_FEW = "too few"
    NOT_SURE = "not sure"


@dataclass(frozen=True, slots=True)
class Limits:
    """Where values must lie. low, high: same unit as the values, None for no limit there.

    doubt: U of the gauge at 95 %, same unit. step: smallest difference that it shows, same unit.
    """

    low: float | None
    high: float | None
    doubt: float = 0.0
    step: float = 0.0

    def surely_inside(self, value: float) -> bool:
        """Whether a value lies inside whatever the gauge's error."""
        return (self.low is None or value >= self.low + self.doubt - _ROUNDING) and (
            self.high is None or value <= self.high - self.doubt + _ROUNDING
        )

    def surely_outside(self, value: float) -> bool:
        """Whether a value lies outside whatever the gauge's error."""
        return (self.low is not None and value < self.low - self.doubt - _ROUNDING) or (
            self.high is not None and value > self.high + self.doubt + _ROUNDING
        )


_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Judged:
    """An answer with what it rests on.

    Attributes
    ----------
    answer : Answer
        Passed, failed or not judged.
    why : Why
        Why.
    share : float
        Share that is inside at least, at the confidence asked; 0 where none was asked.
    more : int
        Readings that are missing at least; 0 where no number is known to help.
    """

    answer: Answer
    why: Why
    share: float = 0.0
    more: int = 0


def judged_reading(value: float, limits: Limits) -> Answer:
    """Judge one value by its limits and the gauge's doubt [1]_.

    Examples
    --------
    >>> limits = Limits(1.70, 1.80, doubt=0.02)
    >>> [judged_reading(mm, limits).value for mm in (1.775, 1.79, 1.825)]
    ['passed', 'not judged', 'failed']
    """
    if limits.surely_inside(value):
        return Answer.PASSED
    return Answer.FAILED if limits.surely_outside(value) else Answer.NOT_JUDGED


def all_inside(values: Sequence[float], limits: Limits, least: int) -> Judged:
    """Judge by the worst of at least `least` values [1]_; one that is surely outside fails.

    Values and limits in one unit. Raises ValueError without a value.

    Examples
    --------
    >>> all_inside([1.76, 1.91], Limits(None, 1.90, doubt=0.02), least=2).answer.value
    'not judged'
    """
    answers = {judged_reading(value, limits) for value in some("values", values)}
    if Answer.FAILED in answers:
        return Judged(Answer.FAILED, Why.OUTSIDE)
    if len(values) < least:
        return Judged(Answer.NOT_JUDGED, Why.TOO_FEW, more=least - len(values))
    if Answer.NOT_JUDGED in answers:
        return Judged(Answer.NOT_JUDGED, Why.NOT_SURE)
    return Judged(Answer.PASSED, Why.INSIDE)


def mean_inside(values: Sequence[float], limits: Limits, least: int) -> Judged:
    """Judge by the mean of at least `least` values; the gauge may err by its doubt in all of them.

    Values and limits in one unit. Raises ValueError without a value.

    Examples
    --------
    >>> mean_inside([0.02, 0.01, 0.03], Limits(None, 0.05, doubt=0.02), least=3).answer.value
    'passed'
    """
    mean = math.fsum(some("values", values)) / len(values)
    if len(values) < least:
        return Judged(Answer.NOT_JUDGED, Why.TOO_FEW, more=least - len(values))
    answer = judged_reading(mean, limits)
    why = {Answer.PASSED: Why.INSIDE, Answer.FAILED: Why.OUTSIDE}.get(answer, Why.NOT_SURE)
    return Judged(answer, why)


def share_inside(
    values: Sequence[float], limits: Limits, least: int, share: float, sure: float
) -> Judged:
    """Judge whether at least a share of all there is lies inside, at a confidence.

    Passed where that is shown without any assumption, by how many of the values are surely inside
    [2]_, or by a tolerance interval x̄ ± k₂·s where the values lie on a straight normal plot
    [3]_ [4]_. Failed where at the same confidence less than the share can be inside. s is never
    taken below the gauge's step over √12.

    Parameters
    ----------
    values : measured values, one unit with `limits`.
    limits : where they must lie.
    least : least number of values.
    share, sure : the share that must be inside and the confidence, both between 0 and 1.

    Returns
    -------
    Judged
        With the share that is inside at least.

    Raises
    ------
    ValueError
        Without a value, or where share or confidence is not between 0 and 1.

    Examples
    --------
    >>> limits = Limits(1.70, 1.80, doubt=0.02)
    >>> share_inside([1.75] * 8 + [1.76] * 8, limits, 10, share=0.9, sure=0.8).answer.value
    'passed'
    >>> share_inside([1.40, 2.00, 1.75], limits, 10, share=0.9, sure=0.8).answer.value
    'failed'
    """
    count = len(some("values", values))
    for name, number in (("share", share), ("sure", sure)):
        if not 0 < number < 1:
            raise ValueError(f"{name} must lie between 0 and 1, not {number!r}")
    inside = sum(limits.surely_inside(value) for value in values)
    not_outside = count - sum(limits.surely_outside(value) for value in values)
    at_least = share_at_least(inside, count, sure)
    if 1 - share_at_least(count - not_outside, count, sure) < share:
        return Judged(Answer.FAILED, Why.OUTSIDE, at_least)
    if count < least:
        return Judged(Answer.NOT_JUDGED, Why.TOO_FEW, at_least, least - count)
    if at_least >= share or (count > 2 and _interval_inside(values, limits, share, sure)):
        return Judged(Answer.PASSED, Why.INSIDE, max(at_least, share))
    more = readings_needed(share, sure) - count
    if inside == count and more > 0:
        return Judged(Answer.NOT_JUDGED, Why.TOO_FEW, at_least, more)
    return Judged(Answer.NOT_JUDGED, Why.NOT_SURE, at_least)


def share_at_least(inside: int, count: int, sure: float) -> float:
    """Share that is inside at least, one-sided at a confidence, where `inside` of `count` are [2]_.

    Examples
    --------
    >>> round(share_at_least(22, 22, 0.90), 3)
    0.901
    """
    if inside == 0:
        return 0.0
    return float(betaincinv(inside, count - inside + 1, 1 - sure))


def readings_needed(share: float, sure: float) -> int:
    """How many values, all inside, show that a share is, at a confidence: ln(1 − c)/ln p [2]_.

    Examples
    --------
    >>> readings_needed(0.9, 0.8), readings_needed(0.95, 0.95)
    (16, 59)
    """
    return math.ceil(math.log(1 - sure) / math.log(share) - 1e-12)


def _interval_inside(values: Sequence[float], limits: Limits, share: float, sure: float) -> bool:
    mean, count = float(np.mean(values)), len(values)
    sd = max(float(np.std(values, ddof=1)), limits.step / math.sqrt(12))
    if not looks_normal(values):
        return False
    reach = tolerance_factor(count, share, sure) * sd
    return limits.surely_inside(mean - reach) and limits.surely_inside(mean + reach)


def looks_normal(values: Sequence[float]) -> bool:
    """Whether the normal plot of at least three values is straight, at 5 % [4]_.

    Examples
    --------
    >>> looks_normal([1.0, 2.0, 3.0, 4.0]), looks_normal([1.0] * 9 + [9.0])
    (True, False)
    """
    count = len(values)
    ranked = np.sort(np.asarray(values, dtype=float))
    if ranked[0] == ranked[-1]:
        return True
    plotted = ndtri((np.arange(1, count + 1) - 0.375) / (count + 0.25))
    straight = float(np.corrcoef(ranked, plotted)[0, 1])
    least = 1.0063 - 0.1288 / math.sqrt(count) - 0.6118 / count + 1.3505 / count**2
    return straight >= least


@lru_cache(maxsize=4096)
def tolerance_factor(count: int, share: float, sure: float) -> float:
    """k₂ of a two-sided tolerance interval x̄ ± k₂·s, exact by integration [3]_.

    The chance that x̄ ± k·s holds the share is the mean, over where x̄ lies, of the chance that
    χ²(n − 1) exceeds (n − 1)·r²/k², with r half the width around x̄ that holds the share.

    Parameters
    ----------
    count : number of values n, at least 2.
    share, sure : share held and confidence, both between 0 and 1.

    Examples
    --------
    >>> round(tolerance_factor(10, 0.95, 0.95), 3)
    3.393
    """
    if count < 2:
        raise ValueError(f"a tolerance interval needs two values, not {count}")
    positive("share", share), positive("sure", sure)
    nodes, weights = np.polynomial.legendre.leggauss(96)
    reach = 8.0
    off = reach * (nodes + 1) / 2  # x̄ lies off/√n from the mean, in standard deviations
    weight = weights * reach * np.exp(-off * off / 2) / math.sqrt(2 * math.pi)
    widths = np.array([_half_width(one / math.sqrt(count), share) for one in off])

    def short(factor: float) -> float:
        held = chdtrc(count - 1, (count - 1) * (widths / factor) ** 2)
        return float(weight @ held) - sure

    return float(brentq(short, 1e-3, 1e5, xtol=1e-9))


def _half_width(off: float, share: float) -> float:
    """r with Φ(off + r) − Φ(off − r) = share, all in standard deviations."""
    not_negative("off", off)

    def short(half: float) -> float:
        return float(ndtr(off + half) - ndtr(off - half)) - share

    return float(brentq(short, 0.0, off + 40.0, xtol=1e-12))
