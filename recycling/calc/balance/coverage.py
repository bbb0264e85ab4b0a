"""Half-intervals that cover 95 % of the truths, from named components.

Sources
-------
.. [1] JCGM 100:2008 (GUM): 4.2.3 (mean of a sample), 4.3.7 (rectangular distribution), G.1.3
   (why k = 2 is not 95 % where a rectangle dominates), G.3 and table G.2 (Student's factor),
   G.4.1 (effective degrees of freedom, Welch and Satterthwaite), G.4.2 (degrees of freedom of
   an uncertainty that is itself known only roughly).
.. [2] Student's t as a normal distribution whose variance is s²·ν/χ²(ν): its definition.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri, ndtr, stdtrit

from recycling.calc.guards import not_negative, positive
from shared.measured import RECTANGULAR, Measured, Parts, Source

PROBABILITY = 0.95
"""Share of the truths that a stated half-interval covers."""

FROM_MEMORY = 8.0
"""Degrees of freedom of an uncertainty known to a quarter of itself: (1/4)⁻²/2 [1]_, G.4.2."""

LEAST_SHARE = 0.02
"""Of the variance: a part below it neither dominates as a rectangle nor keeps its own t."""

MOST_RECTANGLES = 2
FEW = 10.0
"""Degrees of freedom from which Welch and Satterthwaite's formula serves."""

POINTS, POINTS_BESIDE = 60, 24
"""Nodes over the probability of a χ², and of a second one beside it."""

NARROW = 1e-9
"""Of a rectangle's half-width: a rest below it is widened to it, so that nothing is divided by 0;
this changes the half-interval by less than that share of it."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A value as it is stated: with what covers 95 % of the truths, and why that much.

    Attributes
    ----------
    value, u : float
        Best estimate and standard uncertainty, one unit.
    half : float
        95 % half-interval, same unit.
    freedom : float
        Effective degrees of freedom; infinite where nothing was estimated from few.
    largest : tuple of (Source, float)
        The largest components, each kind of own errors as one, with their shares of u².
    """

    value: float
    u: float
    half: float
    freedom: float
    largest: tuple[tuple[Source, float], ...]

    @property
    def k(self) -> float:
        """Coverage factor: half-interval over standard uncertainty; 0 for an exact value."""
        return self.half / self.u if self.u else 0.0


def stated(measured: Measured) -> Stated:
    """State a value so that 95 % of the truths lie within its half-interval.

    The variance is cut in three: the two largest rectangles of more than 2 % of it, convolved
    exactly; of what is left, the variance estimate with fewest degrees of freedom, where ν < 10
    and it makes 2 to 98 % of that, which keeps its own t; and the rest, a t with ν by Welch and
    Satterthwaite [1]_. Welch's formula alone is short where an estimate with ν = 1 or 2 stands
    beside well-known ones, and k = 2 is long where a rectangle dominates.

    Parameters
    ----------
    measured : Measured
        Value with its components, any unit.

    Returns
    -------
    Stated
        In the same unit.

    Examples
    --------
    >>> from shared.measured import Measured
    >>> scale = Source("scale", "bench", RECTANGULAR)
    >>> round(stated(Measured.of(50.0, {scale: 1.0})).half, 4)
    1.6454
    """
    parts = {source: part for source, part in measured.parts.items() if part}
    if not parts:
        return Stated(measured.value, 0.0, 0.0, math.inf, ())
    variance = math.fsum(part * part for part in parts.values())
    wide = _rectangles(parts, variance)
    groups = _estimates(parts, wide)
    left = math.fsum(square for square, _ in groups)
    kept = _kept(groups, left)
    rest = [one for place, one in enumerate(groups) if place != kept]
    half = half_interval(
        [math.sqrt(3) * abs(parts[source]) for source in wide],
        (math.sqrt(math.fsum(square for square, _ in rest)), _welch(rest)),
        None if kept is None else (math.sqrt(groups[kept][0]), groups[kept][1]),
    )
    freedom = effective_freedom(measured)
    return Stated(measured.value, math.sqrt(variance), half, freedom, largest_of(measured))


def _rectangles(parts: Parts, variance: float) -> list[Source]:
    wide = (
        (part * part, source)
        for source, part in parts.items()
        if source.shape == RECTANGULAR and part * part > LEAST_SHARE * variance
    )
    ranked = sorted(wide, key=lambda one: one[0], reverse=True)
    return [source for _, source in ranked[:MOST_RECTANGLES]]


def _estimates(parts: Parts, leave_out: Iterable[Source]) -> list[tuple[float, float]]:
    """Add up (variance, ν) by the variance estimate that components rest on."""
    left_out = set(leave_out)
    squares: dict[tuple[float, object], float] = defaultdict(float)
    for source, part in parts.items():
        if source not in left_out:
            known = math.isinf(source.freedom)
            key = None if known else source.estimate or source
            squares[source.freedom, key] += part * part
    return [(square, freedom) for (freedom, _), square in squares.items()]


def _kept(groups: Sequence[tuple[float, float]], left: float) -> int | None:
    few = [
        (freedom, -square, place)
        for place, (square, freedom) in enumerate(groups)
        if freedom < FEW and LEAST_SHARE * left <= square <= (1 - LEAST_SHARE) * left
    ]
    return min(few)[2] if few else None


def _welch(groups: Iterable[tuple[float, float]]) -> float:
    """ν = (Σ s²)² / Σ (s²)²/ν over variance estimates."""
    listed = list(groups)
    whole = math.fsum(square for square, _ in listed)
    spread = math.fsum(square * square / freedom for square, freedom in listed)
    return whole * whole / spread if spread else math.inf


def effective_freedom(measured: Measured) -> float:
    """Effective degrees of freedom by Welch and Satterthwaite [1]_.

    ν = u⁴ / Σ_g (Σ_{i∈g} c_i²)²/ν_g over the variance estimates g that the components i rest on:
    the mean of a sample and the scatter of what was counted by it rest on one. Without unit;
    infinite where nothing was estimated.

    Examples
    --------
    >>> from shared.measured import Measured
    >>> gum = ((1, 9, 0.25), (2, 4, 0.57), (3, 14, 0.82))
    >>> parts = {Source("x", n, freedom=v): u for n, v, u in gum}
    >>> round(effective_freedom(Measured.of(1.0, parts)), 1)
    19.0
    """
    return _welch(_estimates({s: c for s, c in measured.parts.items() if c}, ()))


def student_factor(freedom: float) -> float:
    """Student's two-sided 95 % factor for ν degrees of freedom, which need not be whole [1]_.

    Raises ValueError unless ν is positive.

    Examples
    --------
    >>> round(student_factor(4), 2), round(student_factor(math.inf), 2)
    (2.78, 1.96)
    """
    if math.isinf(freedom):
        return float(-_NORMAL)
    return float(stdtrit(positive("freedom", freedom), (1 + PROBABILITY) / 2))


_NORMAL = -1.959963984540054


def half_interval(
    half_widths: Sequence[float],
    rest: tuple[float, float],
    kept: tuple[float, float] | None = None,
) -> float:
    """95 % half-interval of up to two rectangles, a t, and a second t, convolved.

    A t is a normal distribution of variance s²·ν/χ² [2]_. Given both χ² the sum is normal and
    two rectangles, whose distribution is a closed form; the mean of that over Gauss–Legendre nodes
    of the probability of each χ² is solved for 95 %.

    Parameters
    ----------
    half_widths : sequence of float
        Half-widths of at most two rectangles, positive.
    rest, kept : (float, float)
        Standard uncertainty s and degrees of freedom ν of each t; ν infinite for a normal one.

    Returns
    -------
    float
        In the unit of the inputs.

    Raises
    ------
    ValueError
        For more than two rectangles, a width or ν that is not positive, or a negative s.

    Examples
    --------
    >>> round(half_interval([1.0, 1.0], (0.0, math.inf)), 4)
    1.5528
    >>> round(half_interval([], (1.0, math.inf), (1.0, 1)), 1)
    12.8
    """
    if len(half_widths) > MOST_RECTANGLES:
        raise ValueError(f"at most {MOST_RECTANGLES} rectangles are convolved")
    for width in half_widths:
        positive("half_widths", width)
    ts = [one for one in (rest, kept) if one is not None and not_negative("s", one[0])]
    if not half_widths and len(ts) == 1:
        return student_factor(ts[0][1]) * ts[0][0]
    if not ts and len(half_widths) == 1:
        return PROBABILITY * half_widths[0]
    sigma, weight = _scales(ts, NARROW * max(half_widths, default=0.0))
    widths = sorted(half_widths)
    most = sum(widths) + sum(student_factor(freedom) * s for s, freedom in ts)

    def outside(half: float) -> float:
        return float(weight @ _outside(half, sigma, widths)) - (1 - PROBABILITY)

    while outside(most) > 0:
        most *= 1.5
    return float(brentq(outside, 0.0, most, xtol=1e-9 * most, rtol=1e-9)) if most else 0.0


@lru_cache(maxsize=256)
def _nodes(freedom: float, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Give ν/χ² at nodes of its probability, and their weights."""
    if math.isinf(freedom):
        return np.ones(1), np.ones(1)
    at, weight = np.polynomial.legendre.leggauss(points)
    chance = (1 + at) / 2
    return freedom / chdtri(freedom, 1 - chance), weight / 2


def _scales(ts: Sequence[tuple[float, float]], least: float) -> tuple[np.ndarray, np.ndarray]:
    """Give standard deviations of the normal that each pair of χ² leaves, and their weights."""
    square, weight = np.full(1, least * least), np.ones(1)
    few = min((freedom for _, freedom in ts), default=math.inf)
    for s, freedom in ts:
        stretch, chance = _nodes(freedom, POINTS if freedom == few else POINTS_BESIDE)
        square = np.add.outer(square, s * s * stretch).ravel()
        weight = np.outer(weight, chance).ravel()
    return np.sqrt(square), weight


def _outside(half: float, sigma: np.ndarray, widths: Sequence[float]) -> np.ndarray:
    """Chance that a normal of standard deviation σ and rectangles lie outside ± half.

    With Φ₁(x) = xΦ(x) + φ(x) and Φ₂(x) = ((x² + 1)Φ(x) + xφ(x))/2 the integrals of Φ: one
    rectangle of half-width a is a first, two are a second difference of them.
    """
    if not widths:
        return 2 * ndtr(-half / sigma)
    if len(widths) == 1:
        a = widths[0]
        return _first((a - half) / sigma, sigma / a) - _first((-a - half) / sigma, sigma / a)
    b, a = widths
    scale = sigma * sigma / (2 * a * b)
    corners = ((a + b, 1), (a - b, -1), (b - a, -1), (-a - b, 1))
    summed = np.zeros_like(sigma)
    for corner, sign in corners:
        x = (corner - half) / sigma
        summed += sign * ((x * x + 1) * ndtr(x) + x * _density(x)) / 2
    return summed * scale


def _first(x: np.ndarray, scale: np.ndarray) -> np.ndarray:
    return (x * ndtr(x) + _density(x)) * scale


def _density(x: np.ndarray) -> np.ndarray:
    return np.exp(-x * x / 2) / math.sqrt(2 * math.pi)


def largest_of(measured: Measured, most: int = 2) -> tuple[tuple[Source, float], ...]:
    """Name the largest components with their shares of u².

    Parameters
    ----------
    measured : Measured
        Any unit. Sources with a number for a name err alone and count together, by kind.
    most : int
        How many at most.

    Examples
    --------
    >>> from shared.measured import Measured
    >>> both = Measured.of(5.0, {Source("scale", "bench"): 3.0, Source("steps", 1): 4.0})
    >>> [(source.kind, round(share, 2)) for source, share in largest_of(both)]
    [('steps', 0.64), ('scale', 0.36)]
    """
    squares: dict[Source, float] = defaultdict(float)
    for source, part in measured.parts.items():
        squares[source if isinstance(source.name, str) else Source(source.kind)] += part * part
    variance = math.fsum(squares.values())
    ranked = sorted(squares.items(), key=lambda one: -one[1])[:most]
    return tuple((source, square / variance) for source, square in ranked if square)
