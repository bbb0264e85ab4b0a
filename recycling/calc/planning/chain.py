"""How much to bring for so many spools, and how many spools what is there will make.

The yields of the steps in a row are drawn, each step from its own seed, and multiplied; every
figure is a quantile of what the draws give [1]_. What lies on the way enters at its step, with
the yields still to come.

Sources
-------
.. [1] JCGM 101:2008, Propagation of distributions using a Monte Carlo method, 7.6 and 7.7.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recycling.calc.guards import not_negative, positive, some
from recycling.calc.planning.step_yield import Draws, Learnt, drawn
from shared.measured import Measured

DRAWS = 4_000
SEED = 20_240_501
"""Any number: the same book gives the same figures."""


@dataclass(frozen=True, slots=True)
class Step:
    """A step of the chain: its name, what its runs say, and what usually goes into one of them.

    `usual` is in the unit of all masses of the plan. `group` is the source or machine that all
    of it comes from; None is any.
    """

    key: str
    learnt: Learnt
    usual: float
    group: str | None = None

    def __post_init__(self) -> None:
        positive("usual", self.usual)


@dataclass(frozen=True, slots=True)
class Interval:
    """The middle of the draws, and the ends between which nine in ten of them lie.

    `high` is None where no amount is enough: in more than one draw of twenty nothing is made.
    `high` of what is needed is enough in 19 of 20.
    """

    low: float
    median: float | None
    high: float | None


def spread_of(draws: Draws) -> Interval:
    """Give the median of some draws and their 90 % interval.

    Examples
    --------
    >>> spread_of(np.linspace(0, 100, 101))
    Interval(low=5.0, median=50.0, high=95.0)
    """
    low, median, high = (
        float(value) for value in np.quantile(draws, (0.05, 0.5, 0.95), method="inverted_cdf")
    )
    kept = [value if math.isfinite(value) else None for value in (median, high)]
    return Interval(low, *kept)


def middle_yield(step: Step) -> float:
    """Give the yield that is expected of a step, a share above zero, to count runs with."""
    learnt = step.learnt
    mean = sum(p * m for p, m in zip(learnt.chance, learnt.mean, strict=True))
    return min(max(mean, 0.05), 1.0)


def runs_ahead(steps: Sequence[Step], product: float) -> tuple[float, ...]:
    """Say how many runs of each step it takes to make so much of the last one's product.

    Parameters
    ----------
    steps : sequence of Step
        In the order in which material meets them.
    product : float
        What is to be made, in the unit of the steps' `usual`.

    Returns
    -------
    tuple of float
        What goes into each step over what usually does; below one where it is part of a run.

    Examples
    --------
    >>> from recycling.calc.planning.step_yield import FirstYield, learn
    >>> dry = Step("dry", learn([], FirstYield(0.99, 0.004)), 9.0)
    >>> wind = Step("extrude", learn([], FirstYield(0.8, 0.04)), 2.0)
    >>> [round(one, 2) for one in runs_ahead([dry, wind], 4.0)]
    [0.56, 2.5]
    """
    positive("product", product)
    ahead = []
    for step in reversed(some("steps", steps)):
        product = product / middle_yield(step)
        ahead.append(product / step.usual)
    return tuple(reversed(ahead))


def to_the_end(
    steps: Sequence[Step], ahead: Sequence[float], seed: int = SEED, count: int = DRAWS
) -> Draws:
    """Draw what becomes of one unit that enters each step: a row for each, the last step's last.

    Parameters
    ----------
    steps : sequence of Step
        In the order in which material meets them.
    ahead : sequence of float
        Runs to come of each.
    seed, count : int
        A step's draws come from the seed and its place from the end: what another step's runs
        are does not move them.

    Returns
    -------
    ndarray
        Of shape (steps, count): shares of the product made of what enters the step.

    Raises
    ------
    ValueError
        For no steps, or not as many `ahead`.
    """
    if len(some("steps", steps)) != len(ahead):
        raise ValueError(f"{len(steps)} steps, but runs of {len(ahead)} are said")
    yields = [
        drawn(
            step.learnt, runs, count, np.random.default_rng([seed, len(steps) - place]), step.group
        )
        for place, (step, runs) in enumerate(zip(steps, ahead, strict=True))
    ]
    return np.asarray(np.cumprod(np.array(yields)[::-1], axis=0)[::-1])


def own_yields(rest: Draws) -> list[Draws]:
    """Part the draws of `to_the_end` again into those of each step.

    Draws in which a later step gave nothing say nothing of an earlier one and are left out.

    Examples
    --------
    >>> [own.tolist() for own in own_yields(np.array([[0.72, 0.0], [0.9, 0.0]]))]
    [[0.7999999999999999], [0.9, 0.0]]
    """
    parts = []
    for place in range(len(rest) - 1):
        kept = rest[place + 1] > 0
        own = rest[place][kept] / rest[place + 1][kept]
        parts.append(own if len(own) else np.zeros(1))
    return [*parts, rest[-1]]


def made_of(steps: Sequence[Step], rest: Draws, there: Mapping[str, float]) -> Draws:
    """Draw what is made of all that lies at the steps.

    Parameters
    ----------
    steps : sequence of Step
        As given to `to_the_end`, whose draws `rest` are.
    rest : ndarray
        What becomes of one unit that enters each step.
    there : mapping of str to float
        By step, what waits to go into it.

    Returns
    -------
    ndarray
        Product, in the unit of `there`.
    """
    made: Draws = np.zeros(rest.shape[1])
    for place, step in enumerate(steps):
        made = made + not_negative(step.key, there.get(step.key, 0.0)) * rest[place]
    return made


def needed(product: float, rest: Draws, made: Draws | float = 0.0) -> Draws:
    """Draw how much has to enter the first step for so much product, beyond what is there.

    Parameters
    ----------
    product : float
        What is to be made.
    rest : ndarray
        As `to_the_end` gives it.
    made : ndarray or float
        What is made of that which lies on the way.

    Returns
    -------
    ndarray
        In the unit of `product`; infinite in a draw in which nothing comes out.

    Examples
    --------
    >>> float(needed(4.0, np.array([[0.8], [0.9]]))[0])
    5.0
    """
    positive("product", product)
    short = np.maximum(product - np.asarray(made), 0.0)
    chain = rest[0]
    enough = np.divide(short, chain, out=np.full(len(chain), np.inf), where=chain > 0)
    return np.where(short > 0, enough, 0.0)


def pieces(masses: Draws, piece: Measured, seed: int = SEED) -> Draws:
    """Draw how many bottles that is, by the weight of one, which is sampled.

    Parameters
    ----------
    masses : ndarray
        Draws of a mass.
    piece : Measured
        Mean mass of one, in the same unit, and its standard uncertainty.

    Returns
    -------
    ndarray
        Pieces, not rounded.

    Raises
    ------
    ValueError
        For a piece that weighs nothing, or an uncertainty above half its weight.
    """
    positive("piece", piece.value)
    if piece.u > piece.value / 2:
        raise ValueError("a piece known no better than by half its weight counts nothing")
    rng = np.random.default_rng([seed, 0])
    one = piece.value + piece.u * rng.standard_normal(len(masses))
    return masses / np.maximum(one, piece.value / 10)


def whole_spools(made: float, weight: float) -> int:
    """Count the full spools in so much product; a thousandth short is full.

    Examples
    --------
    >>> whole_spools(2.54, 1.0), whole_spools(2.9999, 1.0)
    (2, 3)
    """
    return math.floor(not_negative("made", made) / positive("weight", weight) + 1e-3)
