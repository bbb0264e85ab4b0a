"""What runs usually lose here: a band learnt from the workshop's own runs, and what lies outside.

A run of x mg is expected to leave a + b·x unaccounted: a sticks to the machine, b is a share. The
variance about that is (c·(a + b·x))² + (0.001·x)² + u² + var(a + b·x), u from the weighings [1]_.
Runs of a machine are fitted by weighted least squares over what other machines of its stage
say, and those over a first setting [2]_. Weights 6/(5 + z²), at most one, are those of a Student's
t of five degrees [3]_: a run with a slip in it moves the band a little, for ever only if it is
how things go. Every closed run teaches: learning only from runs that were usual never gets
used to a machine that loses more than the first setting.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2, for u.
.. [2] A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), 14.8: a prior on coefficients is
   one more observation of each. The first settings are this project's own: default, not checked.
.. [3] K. L. Lange, R. J. A. Little, J. M. G. Taylor, Robust statistical modeling using the t
   distribution, JASA 84 (1989) 881-896: weight (ν + 1)/(ν + z²).
.. [4] E. A. Cornish, R. A. Fisher, Moments and cumulants in the specification of distributions,
   Revue de l'Institut International de Statistique 5 (1938) 307-320: z + (z² − 1)·γ/6.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from recycling.calc.guards import not_negative, positive

Column = NDArray[np.float64]

STATES = ("closed within weighing", "usual", "to look at", "open")
"""The states of a run's closure, best first; the last two are to be looked at."""

FIRST_RUNS = 5
"""Runs of a stage that are at most to look at: its band is still a first setting."""

RUNS_KEPT = 120
"""The latest runs of a stage that a band is learnt from."""

OF_ITSELF = 0.001
"""Share of what goes in by which a run scatters beside its loss: moisture, crumbs."""

SCATTER_RUNS = 6
"""As how many runs the first setting of the scatter counts."""

_SPREAD = 0.5
_LEAST_SPREAD = (3_000.0, 0.003)
_MEDIAN_CHI2 = 0.4549
_ROUNDS = 12


@dataclass(frozen=True, slots=True)
class Bounds:
    """Where the states of a run's closure end.

    Attributes
    ----------
    within_u : float
        Up to so many standard uncertainties of its weighings a run closes within weighing.
    usual_sd, open_sd : float
        Where the usual ends, and where a run no longer closes, in standard deviations of the band.

    Raises
    ------
    ValueError
        For a bound that is not positive, or `open_sd` below `usual_sd`.
    """

    within_u: float = 2.0
    usual_sd: float = 2.7
    open_sd: float = 4.0

    def __post_init__(self) -> None:
        positive("within_u", self.within_u)
        positive("usual_sd", self.usual_sd)
        if not self.open_sd >= self.usual_sd:
            raise ValueError(f"open_sd, {self.open_sd}, lies below usual_sd, {self.usual_sd}")


COMMON = Bounds()


@dataclass(frozen=True, slots=True)
class First:
    """What a stage loses before anything is known: mg and a share, each with its uncertainty."""

    fixed_mg: float = 5_000.0
    u_fixed_mg: float = 8_000.0
    share: float = 0.01
    u_share: float = 0.01
    scatter: float = 0.5
    gains: bool = False


FIRST: Mapping[str, First] = {
    "sort": First(share=0.02, u_share=0.02),
    "shred": First(),
    "dry": First(share=0.005, u_share=0.005),
    "extrude": First(share=0.015, u_share=0.015),
    "wash": First(share=0.02, u_share=0.02, gains=True),
}
"""First settings by stage: default, not checked. Washing may gain: what comes out is wet."""


@dataclass(frozen=True, slots=True)
class Past:
    """A closed run: what went in, what was left over of it, and how sure that is, mg."""

    went_in_mg: float
    unaccounted_mg: float
    u_mg: float
    machine: str = ""
    polymer: str = ""


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual: loss = fixed + share · x, with covariance, and its scatter in parts of it.

    Attributes
    ----------
    fixed_mg, share : float
        a in mg, and b.
    cov : tuple of three float
        var(a) in mg², cov(a, b) in mg, var(b).
    scatter : float
        c, the standard deviation of a loss in parts of itself.
    runs : int
        From how many runs of this machine; of its stage where that has none.
    of_stage : int
        How many runs of the stage were there to learn from.
    gains : bool
        Whether a gain may be usual, as where what comes out is wet.
    """

    fixed_mg: float
    share: float
    cov: tuple[float, float, float]
    scatter: float
    runs: int = 0
    of_stage: int = 0
    gains: bool = False

    def mean_mg(self, went_in_mg: float) -> float:
        """Loss that is expected of `went_in_mg`, mg; never below zero where gains are not usual."""
        mean_mg = self.fixed_mg + self.share * went_in_mg
        return mean_mg if self.gains else max(mean_mg, 0.0)

    def sd_mg(self, went_in_mg: float, u_mg: float) -> float:
        """Standard deviation about that, with u of the weighings, mg."""
        var_a, cov_ab, var_b = self.cov
        of_mean = max(var_a + 2 * cov_ab * went_in_mg + var_b * went_in_mg**2, 0.0)
        scatter_mg = self.scatter * self.mean_mg(went_in_mg)
        return math.sqrt(of_mean + scatter_mg**2 + (OF_ITSELF * went_in_mg) ** 2 + u_mg**2)


@dataclass(frozen=True, slots=True)
class Band:
    """What is usual of one run, mg: mean, standard deviation, ends, and from how many runs.

    Up to ``within_mg`` on either side weighing alone explains it. ``low_mg`` and ``high_mg`` end
    the usual; beyond ``open_low_mg`` or ``open_high_mg`` a run does not close, unless it is one of
    its stage's first.
    """

    mean_mg: float
    sd_mg: float
    within_mg: float
    low_mg: float
    high_mg: float
    open_low_mg: float
    open_high_mg: float
    runs: int
    early: bool


def first_for(stage: str, share: float | None = None) -> First:
    """Give the first setting of a stage; `share` is what people there say they usually lose.

    Examples
    --------
    >>> first_for("sort", 0.05).share, first_for("sort", 0.05).u_share
    (0.05, 0.025)
    """
    first = FIRST.get(stage, First())
    if share is None:
        return first
    not_negative("share", share)
    u_share = max(share / 2, 0.003)
    return replace(first, share=share, u_share=u_share)


def learn(past: Sequence[Past], machine: str, polymer: str, first: First) -> Usual:
    """Learn what a machine usually loses from the earlier runs of its stage.

    Parameters
    ----------
    past : sequence of Past
        Closed runs of the stage that ended before, oldest first; the last `RUNS_KEPT` count.
    machine, polymer : str
        Of the run that is to be judged; either may be empty.
    first : First
        The first setting.

    Returns
    -------
    Usual
        Fitted in three levels, none of which uses a run of another: other polymers of the
        stage, this polymer on other machines, this polymer on this machine. Each is the prior of
        the next, its spread half of the mean itself and at least 3 g and 0.3 %.

    Examples
    --------
    >>> runs = [Past(1e6, 20_000 + 2_000 * (n % 3), 500.0, "A", "PET") for n in range(30)]
    >>> usual = learn(runs, "A", "PET", First())
    >>> round(usual.mean_mg(1e6) / 1000), round(usual.sd_mg(1e6, 500.0) / 1000), usual.runs
    (22, 5, 30)
    """
    kept = past[-RUNS_KEPT:]
    same = [one for one in kept if one.polymer == polymer]
    levels = (
        [one for one in kept if one.polymer != polymer],
        [one for one in same if one.machine != machine],
        [one for one in same if one.machine == machine],
    )
    cov = (first.u_fixed_mg**2, 0.0, first.u_share**2)
    usual = Usual(first.fixed_mg, first.share, cov, first.scatter, gains=first.gains)
    learnt = False
    for runs in levels:
        if learnt:
            usual = _spread(usual)
        if runs:
            usual, learnt = _fitted(usual, runs), True
    return replace(usual, runs=len(levels[2]) or len(kept), of_stage=len(kept))


def _spread(usual: Usual) -> Usual:
    """Widen what others say to a prior for one more machine."""
    var_a, cov_ab, var_b = usual.cov
    spread_a = max(_SPREAD * abs(usual.fixed_mg), _LEAST_SPREAD[0])
    spread_b = max(_SPREAD * abs(usual.share), _LEAST_SPREAD[1])
    cov = (var_a + spread_a**2, cov_ab, var_b + spread_b**2)
    return replace(usual, cov=cov)


def _fitted(prior: Usual, runs: Sequence[Past]) -> Usual:
    """Fit a, b and c to runs over a prior, by weighted least squares done again and again."""
    seen = _Seen(*np.array([(one.went_in_mg, one.unaccounted_mg, one.u_mg) for one in runs]).T)
    now = _started(prior, seen)
    for _ in range(_ROUNDS):
        fitted = _least_squares(prior, seen, now)
        fitted = replace(fitted, scatter=_scatter(prior.scatter, seen, _means(fitted, seen.x)))
        pairs = zip(_abc(fitted), _abc(now), strict=True)
        settled = all(math.isclose(new, old, rel_tol=1e-3) for new, old in pairs)
        now = fitted
        if settled:
            break
    return now


class _Seen(NamedTuple):
    """What went in, what was left over and its uncertainty, of some runs, mg."""

    x: Column
    r: Column
    u: Column


def _abc(usual: Usual) -> tuple[float, float, float]:
    return usual.fixed_mg, usual.share, usual.scatter


def _median(values: Column) -> float:
    """Give the median; numpy's own takes ten times as long on so few."""
    ranked = np.sort(values)
    middle = len(ranked) // 2
    return float(ranked[middle] if len(ranked) % 2 else (ranked[middle - 1] + ranked[middle]) / 2)


def _means(usual: Usual, x: Column) -> Column:
    means = usual.fixed_mg + usual.share * x
    return means if usual.gains else np.maximum(means, 0.0)


def _started(prior: Usual, seen: _Seen) -> Usual:
    """Begin from the runs' own median once there are three: a steady loss is no outlier."""
    if len(seen.x) < 3:
        return prior
    means = _means(prior, seen.x)
    times = _median(seen.r / np.where(means == 0, 1.0, means))
    if not prior.gains:
        times = max(times, 0.02)
    return replace(prior, fixed_mg=prior.fixed_mg * times, share=prior.share * times)


def _least_squares(prior: Usual, seen: _Seen, now: Usual) -> Usual:
    """Solve the two normal equations of a and b, the prior being one observation more.

    The prior is weighed as a run is: where a machine's own runs agree on something else, it yields.
    """
    var_a, cov_ab, var_b = prior.cov
    det = var_a * var_b - cov_ab**2
    p_aa, p_ab, p_bb = var_b / det, -cov_ab / det, var_a / det
    off_a, off_b = now.fixed_mg - prior.fixed_mg, now.share - prior.share
    z2 = (p_aa * off_a**2 + 2 * p_ab * off_a * off_b + p_bb * off_b**2) / 2
    believed = min(6 / (5 + z2), 1.0)
    p_aa, p_ab, p_bb = p_aa * believed, p_ab * believed, p_bb * believed
    means = _means(now, seen.x)
    var = (now.scatter * means) ** 2 + (OF_ITSELF * seen.x) ** 2 + seen.u**2
    weight = np.minimum(6 / (5 + (seen.r - means) ** 2 / var), 1.0) / var
    wx = weight * seen.x
    y_a = p_aa * prior.fixed_mg + p_ab * prior.share + float(weight @ seen.r)
    y_b = p_ab * prior.fixed_mg + p_bb * prior.share + float(wx @ seen.r)
    p_aa, p_ab, p_bb = p_aa + float(weight.sum()), p_ab + float(wx.sum()), p_bb + float(wx @ seen.x)
    det = p_aa * p_bb - p_ab**2
    a, b = (p_bb * y_a - p_ab * y_b) / det, (p_aa * y_b - p_ab * y_a) / det
    return replace(now, fixed_mg=a, share=b, cov=(p_bb / det, -p_ab / det, p_aa / det))


def _scatter(prior: float, seen: _Seen, means: Column) -> float:
    """Take c from the median of squared residuals, the prior counting as six runs."""
    known = (OF_ITSELF * seen.x) ** 2 + seen.u**2
    squares = np.maximum((seen.r - means) ** 2 - _MEDIAN_CHI2 * known, 0.0)
    own = min(_median(squares / np.maximum(means**2, 1.0)) / _MEDIAN_CHI2, 4.0)
    n = len(seen.x)
    return math.sqrt((SCATTER_RUNS * prior**2 + n * own) / (SCATTER_RUNS + n))


def band(usual: Usual, went_in_mg: float, u_mg: float, bounds: Bounds = COMMON) -> Band:
    """Say what is usual of a run of `went_in_mg` whose weighings have the uncertainty `u_mg`.

    Losses scatter as a gamma variable of relative scatter c does, whose skewness is 2c: the upper
    ends are moved by it [4]_. Below zero the usual ends at 2.7 u: a gain is never usual, but
    where gains are. Raises ValueError for a negative mass or uncertainty.
    """
    not_negative("went_in_mg", went_in_mg)
    not_negative("u_mg", u_mg)
    mean_mg, sd_mg = usual.mean_mg(went_in_mg), usual.sd_mg(went_in_mg, u_mg)
    skew = 2 * usual.scatter * (usual.scatter * abs(mean_mg) / sd_mg) ** 3 if sd_mg else 0.0
    ends = []
    for times in (bounds.usual_sd, bounds.open_sd):
        bent = max(times**2 - 1, 0.0) * skew / 6
        low_mg = mean_mg - times * sd_mg
        if not usual.gains and low_mg < 0:
            low_mg = max(low_mg, -times * u_mg)
        ends.append((low_mg, mean_mg + (times + bent) * sd_mg))
    (low, high), (open_low, open_high) = ends
    within_mg, early = bounds.within_u * u_mg, usual.of_stage < FIRST_RUNS
    return Band(mean_mg, sd_mg, within_mg, low, high, open_low, open_high, usual.runs, early)


def state_of(unaccounted_mg: float, band: Band) -> str:
    """Judge what a run left over: one of ``STATES``.

    Examples
    --------
    >>> usual = band(Usual(5_000, 0.01, (0, 0, 0), 0.4, runs=40, of_stage=40), 4.2e6, 1_000)
    >>> [state_of(r, usual) for r in (-1_500, 61_000, 120_000, 400_000)]
    ['closed within weighing', 'usual', 'to look at', 'open']
    """
    if abs(unaccounted_mg) <= band.within_mg:
        return STATES[0]
    if band.low_mg <= unaccounted_mg <= band.high_mg:
        return STATES[1]
    inside = band.open_low_mg <= unaccounted_mg <= band.open_high_mg
    return STATES[2] if inside or band.early else STATES[3]
