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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from recycling.calc.guards import not_negative

STATES = ("within weighing", "usual", "to look at", "does not close")
"""The states of a run's closure, best first; the last two are to be looked at."""

USUAL_SD, OPEN_SD = 2.7, 4.0
"""Where the usual ends, and where a run no longer closes, in standard deviations of the band."""

WITHIN_U = 2.0
FIRST_RUNS = 5
"""Runs of a stage that are at most to look at: its band is still a first setting."""

RUNS_KEPT = 120
"""The latest runs of a stage that a band is learnt from."""

OF_ITSELF = 0.001
"""Share of what goes in by which a run scatters beside its loss: moisture, crumbs."""

_SPREAD = 0.5
_LEAST_SPREAD = (3_000.0, 0.003)
_SCATTER_RUNS = 6
_MEDIAN_CHI2 = 0.4549
_ROUNDS = 12


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
    """What is usual of one run, mg: from, to, mean and standard deviation, and from how many runs.

    ``low_mg`` and ``high_mg`` end the usual; beyond ``open_low_mg`` or ``open_high_mg`` a run does
    not close, unless it is one of its stage's first.
    """

    mean_mg: float
    sd_mg: float
    u_mg: float
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
    return First(first.fixed_mg, first.u_fixed_mg, share, u_share, first.scatter, first.gains)


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
    own = len(levels[2]) or len(kept)
    return Usual(usual.fixed_mg, usual.share, usual.cov, usual.scatter, own, len(kept), usual.gains)


def _spread(usual: Usual) -> Usual:
    """Widen what others say to a prior for one more machine."""
    var_a, cov_ab, var_b = usual.cov
    spread_a = max(_SPREAD * abs(usual.fixed_mg), _LEAST_SPREAD[0])
    spread_b = max(_SPREAD * abs(usual.share), _LEAST_SPREAD[1])
    cov = (var_a + spread_a**2, cov_ab, var_b + spread_b**2)
    return Usual(usual.fixed_mg, usual.share, cov, usual.scatter, gains=usual.gains)


def _fitted(prior: Usual, runs: Sequence[Past]) -> Usual:
    """Fit a, b and c to runs over a prior, by weighted least squares done again and again."""
    start = _started(prior, runs)
    a, b, scatter = start.fixed_mg, start.share, prior.scatter
    cov = prior.cov
    for _ in range(_ROUNDS):
        now = Usual(a, b, (0.0, 0.0, 0.0), scatter, gains=prior.gains)
        before = (a, b, scatter)
        a, b, cov = _least_squares(prior, runs, now)
        mean = Usual(a, b, (0.0, 0.0, 0.0), scatter, gains=prior.gains)
        scatter = _scatter(prior.scatter, runs, mean)
        if all(
            math.isclose(new, old, rel_tol=1e-4)
            for new, old in zip((a, b, scatter), before, strict=True)
        ):
            break
    return Usual(a, b, cov, scatter, gains=prior.gains)


def _started(prior: Usual, runs: Sequence[Past]) -> Usual:
    """Begin from the runs' own median once there are three: a steady loss is no outlier."""
    if len(runs) < 3:
        return prior
    times = median(one.unaccounted_mg / (prior.mean_mg(one.went_in_mg) or 1.0) for one in runs)
    if not prior.gains:
        times = max(times, 0.02)
    return Usual(prior.fixed_mg * times, prior.share * times, prior.cov, prior.scatter)


def _least_squares(
    prior: Usual, runs: Iterable[Past], now: Usual
) -> tuple[float, float, tuple[float, float, float]]:
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
    y_a = p_aa * prior.fixed_mg + p_ab * prior.share
    y_b = p_ab * prior.fixed_mg + p_bb * prior.share
    for one in runs:
        x, r = one.went_in_mg, one.unaccounted_mg
        var = now.sd_mg(x, one.u_mg) ** 2 or 1.0
        z2 = (r - now.mean_mg(x)) ** 2 / var
        weight = min(6 / (5 + z2), 1.0) / var
        p_aa += weight
        p_ab += weight * x
        p_bb += weight * x * x
        y_a += weight * r
        y_b += weight * r * x
    det = p_aa * p_bb - p_ab**2
    a, b = (p_bb * y_a - p_ab * y_b) / det, (p_aa * y_b - p_ab * y_a) / det
    return a, b, (p_bb / det, -p_ab / det, p_aa / det)


def _scatter(prior: float, runs: Sequence[Past], mean: Usual) -> float:
    """Take c from the median of squared residuals, the prior counting as six runs."""
    squares = []
    for one in runs:
        expected_mg = mean.mean_mg(one.went_in_mg)
        known = (OF_ITSELF * one.went_in_mg) ** 2 + one.u_mg**2
        square = (one.unaccounted_mg - expected_mg) ** 2 - _MEDIAN_CHI2 * known
        squares.append(max(square, 0.0) / max(expected_mg**2, 1.0))
    own = median(squares) / _MEDIAN_CHI2
    n = len(squares)
    return math.sqrt((_SCATTER_RUNS * prior**2 + n * min(own, 4.0)) / (_SCATTER_RUNS + n))


def band(usual: Usual, went_in_mg: float, u_mg: float) -> Band:
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
    for times in (USUAL_SD, OPEN_SD):
        bent = (times**2 - 1) * skew / 6
        low_mg = mean_mg - times * sd_mg
        if not usual.gains and low_mg < 0:
            low_mg = max(low_mg, -times * u_mg)
        ends.append((low_mg, mean_mg + (times + bent) * sd_mg))
    (low, high), (open_low, open_high) = ends
    early = usual.of_stage < FIRST_RUNS
    return Band(mean_mg, sd_mg, u_mg, low, high, open_low, open_high, usual.runs, early)


def state_of(unaccounted_mg: float, band: Band) -> str:
    """Judge what a run left over: one of ``STATES``.

    Examples
    --------
    >>> usual = band(Usual(5_000, 0.01, (0, 0, 0), 0.4, runs=40, of_stage=40), 4.2e6, 1_000)
    >>> [state_of(r, usual) for r in (-1_500, 61_000, 120_000, 400_000)]
    ['within weighing', 'usual', 'to look at', 'does not close']
    """
    if abs(unaccounted_mg) <= WITHIN_U * band.u_mg:
        return STATES[0]
    if band.low_mg <= unaccounted_mg <= band.high_mg:
        return STATES[1]
    inside = band.open_low_mg <= unaccounted_mg <= band.open_high_mg
    return STATES[2] if inside or band.early else STATES[3]
