"""What the next runs of a step will yield: learnt from the workshop's own, few of them shrunk.

A run's yield y is normal about the mean of its group, of variance (1 − ρ)σ²/w; groups are normal
about the mean m of the step, of variance ρσ². Group is the source at sorting, the machine
elsewhere. The start is normal and inverse gamma, m ~ N(m₀, σ²/0.3) and σ² ~ χ⁻²(2, s₀²): mean and
scatter of a first setting, worth 0.3 and 2 runs; ρ is integrated over a few values [1]_. So with
B = ρW/(ρW + 1 − ρ), W the weights of a group, a group is taken for B of its own mean and 1 − B of
that of all: partial pooling [2]_. Runs that failed are no part of the scatter: their chance is a
beta variable [3]_, their yield one of those seen or, as if one run more had been, anything up to
80 %: a single run that gave nothing does not say that the next failed one gives nothing.

Sources
-------
.. [1] A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), 3.3 (normal, inverse gamma), 5.4
   (groups) and 14.6 (unequal variances). The first settings and what they are worth are this
   project's own: default, not checked.
.. [2] D. V. Lindley, A. F. M. Smith, Bayes estimates for the linear model, J. R. Statist. Soc. B
   34 (1972) 1-41.
.. [3] Gelman et al., 2.4: beta and binomial.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from recycling.calc.guards import finite, not_negative, positive, share, whole

Draws = NDArray[np.float64]

RUNS_KEPT = 60
"""The newest runs of a step that are learnt from."""

HALF_LIFE_RUNS = 30.0
"""After so many newer runs a run counts half."""

MEAN_RUNS, SCATTER_RUNS = 0.3, 2.0
"""As how many runs the first settings of mean and scatter count."""

FAILED_BELOW = 0.6
"""A run failed if it yields less than this share of the median of its step."""

_RHO = np.array([0.02, 0.15, 0.3, 0.5, 0.7, 0.9])
_LEAST_FAILED, _MOST_FAILED = 0.0, 0.8


@dataclass(frozen=True, slots=True)
class FirstYield:
    """What a step yields before anything is known: mean and scatter, shares.

    `failed` and `passed` are the runs that the chance of a failed run starts from; with `failed`
    zero there is none until one is seen.
    """

    mean: float
    scatter: float
    failed: float = 0.0
    passed: float = 10.0


FIRST_YIELDS: Mapping[str, FirstYield] = {
    "sort": FirstYield(0.80, 0.025),
    "wash": FirstYield(0.97, 0.015),
    "cut": FirstYield(0.98, 0.01),
    "shred": FirstYield(0.97, 0.01),
    "screen": FirstYield(0.95, 0.02),
    "dry": FirstYield(0.99, 0.004),
    "extrude": FirstYield(0.82, 0.04, failed=0.4, passed=9.6),
}
"""First settings by step: default, not checked."""

COMMON = FirstYield(0.95, 0.03)
"""That of a step which has none of its own."""


@dataclass(frozen=True, slots=True)
class PastRun:
    """A run: target plastic in and good product out, in one unit of mass, and its group.

    Raises ValueError where nothing went in, or for a negative product.
    """

    went_in: float
    product: float
    group: str = ""

    def __post_init__(self) -> None:
        positive("went_in", self.went_in)
        not_negative("product", self.product)


@dataclass(frozen=True, slots=True)
class Learnt:
    """What the runs of a step say, for each ρ of the grid.

    Attributes
    ----------
    runs, failed : int
        How many runs were learnt from, and how many of them failed.
    chance : tuple of float
        Of each ρ.
    mean, kappa : tuple of float
        Mean m of the step, and the runs that it is worth.
    scatter : tuple of float
        s, the standard deviation of one run about m.
    freedom : float
        Degrees of freedom of the scatter.
    groups : mapping of str to (float, float)
        Weight and mean of each group.
    failed_yields : tuple of float
        Yields of the failed runs.
    first : FirstYield
        The first setting.
    """

    runs: int
    failed: int
    chance: tuple[float, ...]
    mean: tuple[float, ...]
    kappa: tuple[float, ...]
    scatter: tuple[float, ...]
    freedom: float
    groups: Mapping[str, tuple[float, float]]
    failed_yields: tuple[float, ...]
    first: FirstYield


class _Sums(NamedTuple):
    """Of each group W and Σwy, of all Σwy² and how many runs these are, older ones less."""

    w: Draws
    wy: Draws
    wyy: float
    weighed: float


def first_yield(step: str) -> FirstYield:
    """Give the first setting of a step.

    Examples
    --------
    >>> first_yield("dry").mean, first_yield("polish").mean
    (0.99, 0.95)
    """
    return FIRST_YIELDS.get(step, COMMON)


def learn(past: Sequence[PastRun], first: FirstYield) -> Learnt:
    """Learn from the earlier runs of a step.

    Parameters
    ----------
    past : sequence of PastRun
        Oldest first; the last `RUNS_KEPT` count. May be empty.
    first : FirstYield
        The first setting.

    Returns
    -------
    Learnt
        For `drawn`.

    Notes
    -----
    A run of x in is weighed by √(x/mean x), cut to 0.25 and 4, and by ½^(newer runs/30). With
    one group alone nothing tells how groups differ, and it is taken for the step.

    Examples
    --------
    >>> learnt = learn([PastRun(10, 9.8), PastRun(10, 9.6)], FirstYield(0.97, 0.01))
    >>> round(learnt.mean[0], 3), learnt.runs, learnt.failed
    (0.97, 2, 0)
    """
    kept = list(past[-RUNS_KEPT:])
    good, failed = _parted(kept)
    names = sorted({run.group for _, run in good})
    sums = _summed(kept, good, names)
    rhos = _RHO if len(names) > 1 else np.zeros(1)
    fits = [_fitted(first, sums, float(rho)) for rho in rhos]
    log = np.array([fit.log_evidence for fit in fits])
    chance = np.exp(log - log.max())
    return Learnt(
        runs=len(kept),
        failed=len(failed),
        chance=tuple((chance / chance.sum()).tolist()),
        mean=tuple(fit.mean for fit in fits),
        kappa=tuple(fit.kappa for fit in fits),
        scatter=tuple(fit.scatter for fit in fits),
        freedom=SCATTER_RUNS + sums.weighed,
        groups={
            name: (float(w), float(wy / w))
            for name, w, wy in zip(names, sums.w, sums.wy, strict=True)
        },
        failed_yields=tuple(run.product / run.went_in for run in failed),
        first=first,
    )


def _parted(kept: Sequence[PastRun]) -> tuple[list[tuple[int, PastRun]], list[PastRun]]:
    """Part the runs that failed from the others, which keep how many newer runs there are."""
    if not kept:
        return [], []
    least = FAILED_BELOW * float(np.median([run.product / run.went_in for run in kept]))
    aged = [(len(kept) - 1 - place, run) for place, run in enumerate(kept)]
    good = [(age, run) for age, run in aged if run.product / run.went_in >= least]
    failed = [run for _, run in aged if run.product / run.went_in < least]
    return good, failed


def _summed(
    kept: Sequence[PastRun], good: Sequence[tuple[int, PastRun]], names: Sequence[str]
) -> _Sums:
    w, wy = np.zeros(len(names)), np.zeros(len(names))
    wyy = count = 0.0
    usual = sum(run.went_in for _, run in good) / len(good) if good else 1.0
    for age, run in good:
        aged = 0.5 ** (age / HALF_LIFE_RUNS)
        weight = aged * min(max(math.sqrt(run.went_in / usual), 0.25), 4.0)
        y = run.product / run.went_in
        place = names.index(run.group)
        w[place] += weight
        wy[place] += weight * y
        wyy += weight * y**2
        count += aged
    return _Sums(w, wy, wyy, count)


class _Fit(NamedTuple):
    mean: float
    kappa: float
    scatter: float
    log_evidence: float


def _fitted(first: FirstYield, sums: _Sums, rho: float) -> _Fit:
    """Fit m and s for one ρ: C = (1 − ρ)·diag(1/w) + ρ within groups, inverted in closed form."""
    own = 1.0 - rho
    spread = own + rho * sums.w
    kappa = MEAN_RUNS + float((sums.w / spread).sum())
    mean = (MEAN_RUNS * first.mean + float((sums.wy / spread).sum())) / kappa
    squares = (sums.wyy - rho * float((sums.wy**2 / spread).sum())) / own
    squares += SCATTER_RUNS * first.scatter**2 + MEAN_RUNS * first.mean**2 - kappa * mean**2
    freedom = SCATTER_RUNS + sums.weighed
    least = SCATTER_RUNS * first.scatter**2 * 1e-6
    squares = max(squares, least)
    log_det = sums.weighed * math.log(own) + float(np.log(spread / own).sum())
    log_evidence = -0.5 * (log_det + math.log(kappa) + freedom * math.log(squares))
    return _Fit(mean, kappa, math.sqrt(squares / freedom), log_evidence)


def drawn(
    learnt: Learnt, ahead: float, count: int, rng: np.random.Generator, group: str | None = None
) -> Draws:
    """Draw the mean yield of the next runs.

    Parameters
    ----------
    learnt : Learnt
        What the earlier runs say.
    ahead : float
        How many runs of the usual size are to come; at least one is taken.
    count : int
        Draws.
    rng : numpy.random.Generator
        Where chance comes from; the same seed gives the same draws.
    group : str, optional
        All of it is of this source, or on this machine; left out, of any.

    Returns
    -------
    ndarray
        Shares from 0 to 1.

    Examples
    --------
    >>> learnt = learn([], FirstYield(0.97, 0.01))
    >>> round(float(np.median(drawn(learnt, 1, 4000, np.random.default_rng(1)))), 2)
    0.97
    """
    runs = max(finite("ahead", ahead), 1.0)
    whole("count", count, least=1)
    which = rng.choice(len(learnt.chance), size=count, p=learnt.chance)
    rho = (_RHO if len(learnt.chance) > 1 else np.zeros(1))[which]
    sd = np.array(learnt.scatter)[which]
    sd = sd * np.sqrt(learnt.freedom / rng.chisquare(learnt.freedom, count))
    of_mean = sd / np.sqrt(np.array(learnt.kappa)[which])
    mean = np.array(learnt.mean)[which] + of_mean * rng.standard_normal(count)
    of_runs = np.full(count, 1.0)
    if group is not None and len(learnt.chance) > 1:
        weight, own = learnt.groups.get(group, (0.0, 0.0))
        pooled = rho * weight / (rho * weight + 1 - rho)
        mean = pooled * own + (1 - pooled) * mean
        mean = mean + sd * np.sqrt(rho * (1 - pooled)) * rng.standard_normal(count)
        of_runs = 1 - rho
    mean = mean + sd * np.sqrt(of_runs / runs) * rng.standard_normal(count)
    return np.asarray(np.clip(_with_failures(learnt, mean, runs, rng), 0.0, 1.0))


def _with_failures(learnt: Learnt, good: Draws, runs: float, rng: np.random.Generator) -> Draws:
    """Let some of the runs fail, as often as they do here."""
    first = learnt.first
    if not learnt.failed and not first.failed:
        return good
    passed = learnt.runs - learnt.failed
    chance = rng.beta(first.failed + learnt.failed, first.passed + passed, len(good))
    whole_runs = max(round(runs), 1)
    fails = rng.binomial(whole_runs, chance)
    shape = (len(good), whole_runs)
    yields = rng.uniform(_LEAST_FAILED, _MOST_FAILED, shape)
    which = rng.integers(0, len(learnt.failed_yields) + 1, shape)
    for place, seen in enumerate(learnt.failed_yields):
        yields[which == place] = seen
    counted = np.arange(whole_runs) < fails[:, None]
    return (good * (whole_runs - fails) + (yields * counted).sum(axis=1)) / whole_runs


def chance_of_failure(learnt: Learnt) -> float:
    """Give the mean chance that the next run fails, a share."""
    first = learnt.first
    if not learnt.failed and not first.failed:
        return 0.0
    failed = first.failed + learnt.failed
    return share("chance", failed / (failed + first.passed + learnt.runs - learnt.failed))
