"""A spool goes bad by its background or by a cause that it holds: chances and their integration.

With b the background, theta the chance of spoiling, q = 1 - b and r = 1 - theta, a line k that is
the one cause has, against "none of these", the Bayes factor

.. math:: F_k = \\int\\!\\!\\int r^{E_k}
          \\prod_{i\\,\\mathrm{bad}} \\frac{1 - q\\,r^{e_{ik}}}{b}
          \\; p(b \\mid \\mathrm{none}) \\, p(\\theta) \\, db \\, d\\theta

where :math:`E_k` is the sum of its exposures in good spools and p(b | none) is a Beta distribution.
Both integrals are taken by Gauss-Legendre's rule over the arcsine of the root, in which the spread
of a chance known from n spools is :math:`1 / (2\\sqrt n)` everywhere [3]_; the number of points
follows that spread. The product over bad spools is a matrix product with a table over
``exposure_nodes()``.

References
----------
.. [1] Pearl, J. (1988). Probabilistic Reasoning in Intelligent Systems, section 4.3.2 (noisy-OR).
.. [2] Russell, S. and Norvig, P. (2010). Artificial Intelligence: A Modern Approach, 3rd ed.,
   section 14.3, figure 14.10 (the table of fever).
.. [3] Anscombe, F. J. (1948). The transformation of Poisson, binomial and negative-binomial data.
   Biometrika 35, 246-254 (the arcsine of the root gives a spread of 1 / (2 sqrt(n))).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, lgamma

import numpy as np

NODES = 24
"""Exposures between 0 and 1 at which the chances are tabulated."""

KNEE = 0.004
"""Exposure around which the table turns from even to ever wider spacing."""

BLOCK = 131_072
"""Number of grid values worked on at a time, so that they stay in the processor's cache."""

ONE_PROCESSOR = 250_000
"""Multiplications in one matrix product; larger ones wait for other processors to join in."""

CLASSES = ((20, 16), (44, 24), (164, 48), (644, 96), (2564, 192), (np.inf, 384))
"""Up to so many exposed spools, the prior's own included, so many points over theta."""


def bad_chance(background, spoil, exposure):
    """Give the chance that a spool is bad, by the noisy-OR with a background [1]_.

    Parameters
    ----------
    background : float
        Chance b of a bad spool without any cause, in [0, 1].
    spoil : array_like of float, shape (causes,)
        Chance that each cause spoils a fully exposed spool, in [0, 1].
    exposure : array_like of float, shape (..., causes)
        Dimensionless exposure of each spool to each cause, in [0, 1].

    Returns
    -------
    numpy.ndarray of float, shape (...)
        Chance from 0 to 1.

    Raises
    ------
    ValueError
        If any of them is outside [0, 1].

    Notes
    -----
    .. math:: P(\\mathrm{bad}) = 1 - (1 - b) \\prod_k (1 - \\theta_k)^{e_k}

    Examples
    --------
    Fever by cold, flu and malaria [2]_:

    >>> bad_chance(0.0, [0.4, 0.8, 0.9], [[0, 1, 1], [1, 1, 1]]).round(3)
    array([0.98 , 0.988])
    """
    spoil, exposure = np.asarray(spoil, dtype=float), np.asarray(exposure, dtype=float)
    for number in (np.asarray(background), spoil, exposure):
        if not np.all((number >= 0) & (number <= 1)):
            raise ValueError("chances and exposures lie between 0 and 1")
    return 1 - (1 - background) * np.prod((1 - spoil) ** exposure, axis=-1)


@dataclass(frozen=True, eq=False)
class CauseEvidence:
    """What the verdicts say of each line, were it the one cause.

    Attributes
    ----------
    log_factor : numpy.ndarray of float, shape (lines,)
        Natural logarithm of the Bayes factor of the line against "none of these".
    spoil_mean : numpy.ndarray of float, shape (lines,)
        Posterior mean of the chance that it spoils a fully exposed spool, 0 to 1.
    good_chance : numpy.ndarray of float, shape (lines, NODES)
        Predicted chance of a good verdict at each exposure of ``exposure_nodes()``.
    """

    log_factor: np.ndarray
    spoil_mean: np.ndarray
    good_chance: np.ndarray


@lru_cache
def exposure_nodes():
    """Give the exposures at which chances are tabulated, from 0 to 1, close together near 0.

    Returns
    -------
    numpy.ndarray of float, shape (NODES,)
        Dimensionless.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> exposure_nodes()[[0, -1]]
    array([0., 1.])
    """
    nodes = KNEE * np.expm1(np.linspace(0, np.log1p(1 / KNEE), NODES))
    nodes[-1] = 1.0
    nodes.setflags(write=False)
    return nodes


def between_nodes(exposure):
    """Give the four nodes around each exposure and their weights in cubic interpolation.

    Parameters
    ----------
    exposure : array_like of float, shape (entries,)
        Dimensionless, in [0, 1].

    Returns
    -------
    start : numpy.ndarray of int, shape (entries,)
        The first of the four neighbouring nodes.
    weight : numpy.ndarray of float, shape (entries, 4)
        Weights of the four, adding up to 1 (Lagrange's polynomial in the logarithmic coordinate).

    Raises
    ------
    ValueError
        If an exposure is outside [0, 1].

    Examples
    --------
    >>> start, weight = between_nodes([0.3])
    >>> nodes = exposure_nodes()
    >>> round(float(weight[0] @ np.sqrt(nodes[start[0] : start[0] + 4])), 3), 0.3 ** 0.5
    (0.548, 0.5477225575051661)
    """
    exposure = np.asarray(exposure, dtype=float)
    if not np.all((exposure >= 0) & (exposure <= 1)):
        raise ValueError("an exposure lies between 0 and 1")
    place = np.log1p(exposure / KNEE) * ((NODES - 1) / np.log1p(1 / KNEE))
    start = np.clip(place.astype(np.int64) - 1, 0, NODES - 4)
    t = place - start
    t1, t2, t3 = t - 1, t - 2, t - 3
    weight = np.empty((len(t), 4))
    weight[:, 0], weight[:, 1] = -t1 * t2 * t3 / 6, t * t2 * t3 / 2
    weight[:, 2], weight[:, 3] = -t * t1 * t3 / 2, t * t1 * t2 / 6
    return start, weight


def weigh_causes(line, exposure, bad, lines, bad_spools, good_spools, priors):
    """Integrate the noisy-OR of each line over background and chance of spoiling (see above).

    Parameters
    ----------
    line : numpy.ndarray of int, shape (entries,)
        Line of each non-zero exposure, counted from 0.
    exposure : numpy.ndarray of float, shape (entries,)
        Dimensionless, in (0, 1].
    bad : numpy.ndarray of bool, shape (entries,)
        Whether the entry's spool was judged bad.
    lines : int
        How many lines there are, also those without an entry.
    bad_spools, good_spools : int
        How many spools were judged so, in all.
    priors : SuspectPriors
        Distributions of the background and of the chance of spoiling.

    Returns
    -------
    CauseEvidence

    Raises
    ------
    ValueError
        If an exposure is outside [0, 1].

    Examples
    --------
    One candidate in both bad spools and in neither of two good ones:

    >>> from recycling.calc.suspects.priors import SuspectPriors
    >>> both = np.array([0, 0]), np.array([1.0, 1.0]), np.array([True, True])
    >>> float(weigh_causes(*both, 1, 2, 2, SuspectPriors()).log_factor[0].round(2))
    3.67
    """
    features = _features(line, exposure, bad, lines)
    known = np.bincount(line, minlength=lines) + priors.spoil_alpha + priors.spoil_beta
    unexplained = bad_spools - np.bincount(line[bad], minlength=lines)
    evidence = CauseEvidence(np.zeros(lines), np.zeros(lines), np.zeros((lines, NODES)))
    fewest: float = 0
    for most, points in CLASSES:
        chosen = np.flatnonzero((known > fewest) & (known <= most))
        fewest = most
        if not len(chosen):
            continue
        background = _background(bad_spools, good_spools, unexplained[chosen].min(), priors)
        spoil = _beta_points(priors.spoil_alpha, priors.spoil_beta, 0.0, np.pi / 2, points)
        table = _table(background, spoil)
        step = max(1, BLOCK // table.shape[1])
        for begin in range(0, len(chosen), step):
            block = chosen[begin : begin + step]
            _integrate(evidence, block, _product(features[block], table), background, spoil)
    return evidence


def _features(line, exposure, bad, lines):
    """Sum up each line: its bad exposures spread over the nodes, its good ones, and a one."""
    width = NODES + 2
    spoilt = np.flatnonzero(bad)
    start, weight = between_nodes(exposure[spoilt])
    place = (line[spoilt] * width + start)[:, None] + np.arange(4)
    summed = np.bincount(place.ravel(), weights=weight.ravel(), minlength=lines * width)
    features = summed.astype(float).reshape(lines, width)  # no entries are counted as integers
    withstood = np.where(bad, 0.0, exposure)
    features[:, NODES] = np.bincount(line, weights=withstood, minlength=lines)
    features[:, NODES + 1] = 1.0
    return features


def _table(background, spoil):
    """Tabulate the log-likelihood of one unit of each feature at every point of the grid."""
    b, log_b_weight = background
    theta, log_theta_weight = spoil
    survive = np.log1p(-theta)
    kept = np.exp(np.outer(exposure_nodes(), survive))
    by_node = np.log1p(-(1 - b) * kept[:, :, None]) - np.log(b)
    good = np.broadcast_to(survive[:, None], by_node.shape[1:])
    base = log_theta_weight[:, None] + log_b_weight
    return np.concatenate([by_node, [good, base]]).reshape(NODES + 2, -1)


def _product(left, right):
    """Multiply slab by slab: on a busy machine, waiting for a second processor costs far more."""
    rows, slab = len(left), max(1, ONE_PROCESSOR // right.size)
    whole = rows - rows % slab
    product = np.empty((rows, right.shape[1]))
    slabs = left[:whole].reshape(-1, slab, left.shape[1])
    np.matmul(slabs, right, out=product[:whole].reshape(-1, slab, right.shape[1]))
    np.matmul(left[whole:], right, out=product[whole:])
    return product


def _integrate(evidence, block, log_weight, background, spoil):
    """Sum a block of lines over the grid into the evidence."""
    b, theta = background[0], spoil[0]
    top = log_weight.max(axis=1, keepdims=True)
    weight = np.exp(np.subtract(log_weight, top, out=log_weight), out=log_weight)
    over_b = weight.reshape(-1, len(b)) @ np.column_stack([np.ones_like(b), 1 - b])
    over_b = over_b.reshape(len(block), len(theta), 2)
    total = over_b[:, :, 0].sum(axis=1)
    evidence.log_factor[block] = np.log(total) + top[:, 0]
    evidence.spoil_mean[block] = over_b[:, :, 0] @ theta / total
    kept = np.exp(np.outer(np.log1p(-theta), exposure_nodes()))
    evidence.good_chance[block] = over_b[:, :, 1] @ kept / total[:, None]


def _background(bad_spools, good_spools, least_unexplained, priors):
    """Choose points over the background where any of the lines can put it."""
    alpha = priors.background_alpha + bad_spools
    beta = priors.background_beta + good_spools
    spread = 0.5 / np.sqrt(alpha + beta)
    low_alpha = priors.background_alpha + least_unexplained
    low = np.arcsin(np.sqrt(low_alpha / (low_alpha + beta))) - 5.5 * spread
    high = np.arcsin(np.sqrt(alpha / (alpha + beta))) + 5.5 * spread
    low, high = max(low, 0.0), min(high, np.pi / 2)
    return _beta_points(alpha, beta, low, high, max(12, ceil((high - low) / (0.8 * spread))))


def _beta_points(alpha, beta, low, high, points):
    """Give points of a Beta variable and the logarithms of their weights, angles low to high."""
    unit, weight = _legendre(points)
    angle = low + (high - low) * unit
    sine, cosine = np.sin(angle), np.cos(angle)
    log_weight = np.log(2 * (high - low) * weight)
    log_weight += (2 * alpha - 1) * np.log(sine) + (2 * beta - 1) * np.log(cosine)
    return sine**2, log_weight - (lgamma(alpha) + lgamma(beta) - lgamma(alpha + beta))


@lru_cache(maxsize=256)
def _legendre(points):
    """Give Gauss-Legendre points and weights on 0 to 1."""
    unit, weight = np.polynomial.legendre.leggauss(points)
    return (unit + 1) / 2, weight / 2
