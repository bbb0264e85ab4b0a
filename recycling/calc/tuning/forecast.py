"""When a hopper runs empty and a spool is full, from the flow as it is now.

Sources
-------
.. [1] JCGM 101:2008 (GUM, Supplement 1): distributions propagated by drawing from them, and the
   interval that covers a share of the draws.
.. [2] G. H. Golub, C. F. Van Loan: Matrix Computations, 4.2: Cholesky's factor of a covariance.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.calc.guards import positive
from recycling.calc.tuning.flow import DEAD, Flow, M, Q, W, Wander

DRAWS = 500
LONGEST_MIN = 24 * 60.0
STEPS = 24


@dataclass(frozen=True, slots=True)
class Forecast:
    """When something comes to pass, in minutes from the moment of the flow.

    Attributes
    ----------
    middle, early, late : float
        Half of the draws come before `middle`; nine in ten lie between `early` and `late`.
    """

    middle: float
    early: float
    late: float

    @property
    def can_tell(self) -> bool:
        """Whether the interval is shorter than the time that is left."""
        return self.late - self.early <= max(self.middle, 10.0)


def hopper_empty(flow: Flow, wander: Wander | None = None, seed: int = 1) -> Forecast:
    """When the hopper no longer feeds: M − M₀ is used up [1]_.

    Settings stay as they are and nothing is refilled; minutes from the flow's own moment, at most
    24 h. The seed is given, so that a page does not flicker.

    Examples
    --------
    >>> from recycling.calc.tuning.flow import Event, follow
    >>> noted = [Event(0, puller_mm_s=34.47, fed_g=425), Event(6, diameters_mm=(1.75,) * 10)]
    >>> round(hopper_empty(follow(noted, 30, 1.34)).middle)
    30
    """
    return _used_up(flow, {M: 1.0, DEAD: -1.0}, 0.0, wander or Wander(), seed)


def spool_full(flow: Flow, holds_g: float, wander: Wander | None = None, seed: int = 1) -> Forecast:
    """When what was wound since the last lot came off reaches what a spool holds, g [1]_.

    Raises ValueError when `holds_g` is not positive.

    Examples
    --------
    >>> from recycling.calc.tuning.flow import Event, follow
    >>> noted = [Event(0, puller_mm_s=34.47), Event(6, diameters_mm=(1.75,) * 10)]
    >>> round(spool_full(follow(noted, 30, 1.34), 500).middle)
    45
    """
    limit_g = positive("holds_g", holds_g)
    return _used_up(flow, {W: -1.0}, limit_g, wander or Wander(), seed)


def _used_up(flow: Flow, of: dict[int, float], plus: float, wander: Wander, seed: int) -> Forecast:
    """Walk draws of the state on until `plus` and a sum of states are used up."""
    left = plus + math.fsum(flow.x[i] * h for i, h in of.items())
    factor = _factor(_joint(flow.p, of))
    expected = min(max(left, 0.0) / flow.g_per_h * 60, LONGEST_MIN)
    step = max(expected / STEPS, 1.0)
    sd = wander.per_10_min * math.sqrt(step / 10)
    chance = random.Random(seed)
    ends = sorted(_walk(left, flow.g_per_h, factor, step, sd, chance) for _ in range(DRAWS))
    return Forecast(ends[DRAWS // 2], ends[round(0.05 * DRAWS)], ends[round(0.95 * DRAWS) - 1])


def _joint(p: Sequence[Sequence[float]], of: dict[int, float]) -> list[list[float]]:
    """Covariance of q and the sum of states."""
    with_q = math.fsum(p[Q][i] * h for i, h in of.items())
    own = math.fsum(p[i][j] * g * h for i, g in of.items() for j, h in of.items())
    return [[max(p[Q][Q], 0.0), with_q], [with_q, max(own, 0.0)]]


def _factor(two: list[list[float]]) -> tuple[float, float, float]:
    """Cholesky's factor of a covariance of two [2]_: its rows are (a, 0) and (b, c)."""
    a = math.sqrt(two[0][0])
    b = two[0][1] / a if a else 0.0
    return a, b, math.sqrt(max(two[1][1] - b * b, 0.0))


def _walk(
    left: float,
    rate: float,
    factor: tuple[float, float, float],
    step: float,
    sd: float,
    chance: random.Random,
) -> float:
    one, two = chance.gauss(0.0, 1.0), chance.gauss(0.0, 1.0)
    flow = rate * math.exp(factor[0] * one)
    left += factor[1] * one + factor[2] * two
    minutes = 0.0
    while left > 0 and minutes < LONGEST_MIN:
        passed = flow * step / 60
        if passed >= left:
            return minutes + step * left / passed
        left -= passed
        minutes += step
        flow *= math.exp(chance.gauss(0.0, sd))
    return minutes
