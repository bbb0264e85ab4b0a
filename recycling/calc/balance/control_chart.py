"""Individuals and moving-range chart of a figure over time, with out-of-control points named.

Sources
-------
.. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, Individuals control charts:
   limits x̄ ± 3·MR̄/1.128; range limit D4·MR̄ with D4 = 3.267.
.. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2, What are variables control
   charts?: the Western Electric run rules and the trend rules, which raise the rate of false
   alarms from one in 371 points to about one in 92 (so they are off unless asked for).
.. [3] L. S. Nelson: The Shewhart control chart: tests for special causes, Journal of Quality
   Technology 16 (1984), 237 to 239: trends of six, and fourteen up and down by turns.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import fsum

from recycling.calc.guards import finite, some

D2 = 1.128
"""Mean range of two standard normal values; 3/D2 = 2.660 is E2 [1]_."""

D4 = 3.267
"""Factor of the upper limit of the moving range of two values [1]_."""

POINTS_FOR_FIRM_LIMITS = 20
"""With fewer points limits are marked as provisional (common practice, a workshop's setting)."""

# the first two as in [1], the next three as in [2], the last two as in [3]
RULES = {
    "beyond a limit": "One value lies above the upper or below the lower limit.",
    "range beyond its limit": "The step from the value before is larger than the limit of steps.",
    "two of three beyond 2 sigma": "Two of three in a row are beyond 2 sigma, same side.",
    "four of five beyond 1 sigma": "Four of five in a row are beyond 1 sigma, same side.",
    "eight on one side": "Eight values in a row lie on one side of the mean.",
    "six in a trend": "Six values in a row rise, or fall.",
    "fourteen alternating": "Fourteen values in a row go up and down by turns.",
}
"""Name of each rule → what it says."""


@dataclass(frozen=True, slots=True)
class Signal:
    """One out-of-control point: its place from 0, its label, and the rule it breaks."""

    place: int
    label: str
    rule: str

    @property
    def sentence(self) -> str:
        """The signal in words."""
        return f"{self.label}: {RULES[self.rule]}"


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """An individuals and moving-range chart; all figures in the unit of the values.

    Attributes
    ----------
    labels, values
        The points in order.
    moving_ranges
        |xᵢ − xᵢ₋₁|, one fewer than there are values.
    mean, mean_moving_range, sigma
        x̄, MR̄, and MR̄/1.128.
    lower, upper
        Limits of the values.
    range_upper
        Upper limit of the moving range; its lower limit is zero.
    provisional
        Whether there are too few points for firm limits.
    signals
        Out-of-control points in order of place.
    """

    labels: tuple[str, ...]
    values: tuple[float, ...]
    moving_ranges: tuple[float, ...]
    mean: float
    mean_moving_range: float
    sigma: float
    lower: float
    upper: float
    range_upper: float
    provisional: bool
    signals: tuple[Signal, ...]


def individuals_chart(
    values: Sequence[float],
    labels: Sequence[str] | None = None,
    run_rules: bool = False,
    firm_points: int = POINTS_FOR_FIRM_LIMITS,
) -> IndividualsChart:
    """Draw up the individuals and moving-range chart of a series.

    Parameters
    ----------
    values : sequence of float
        At least two, in the order of time, any unit.
    labels : sequence of str, optional
        What to call each point; its number from 1 where left out.
    run_rules : bool
        Whether to look for the runs of [2]_ and the trends of [3]_ too.
    firm_points : int
        With fewer points the limits are provisional.

    Returns
    -------
    IndividualsChart
        Limits x̄ ± 3·MR̄/1.128 and D4·MR̄ [1]_.

    Raises
    ------
    ValueError
        For fewer than two values, one that is not finite, or labels of another number.

    Examples
    --------
    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> f"{chart.mean:.2f} {chart.mean_moving_range:.4f} {chart.upper:.4f} {chart.lower:.4f}"
    '50.81 1.8778 55.8041 45.8159'
    """
    points = tuple(float(finite("a value", x)) for x in some("values", values, least=2))
    names = tuple(labels) if labels is not None else tuple(str(i + 1) for i in range(len(points)))
    if len(names) != len(points):
        raise ValueError(f"there are {len(points)} values but {len(names)} labels")
    ranges = tuple(abs(b - a) for a, b in pairwise(points))
    mean, mean_range = fsum(points) / len(points), fsum(ranges) / len(ranges)
    sigma = mean_range / D2
    lower, upper, range_upper = mean - 3 * sigma, mean + 3 * sigma, D4 * mean_range
    found = [(i, "beyond a limit") for i, x in enumerate(points) if not lower <= x <= upper]
    found += [(i + 1, "range beyond its limit") for i, r in enumerate(ranges) if r > range_upper]
    if run_rules:
        found += _runs(points, mean, sigma) + _trends(points)
    signals = tuple(Signal(i, names[i], rule) for i, rule in sorted(found))
    provisional = len(points) < firm_points
    return IndividualsChart(
        names,
        points,
        ranges,
        mean,
        mean_range,
        sigma,
        lower,
        upper,
        range_upper,
        provisional,
        signals,
    )


def _runs(points: tuple[float, ...], mean: float, sigma: float) -> list[tuple[int, str]]:
    """Points at which a run on one side is complete; the point itself belongs to the run."""
    rules = (
        ("two of three beyond 2 sigma", 2, 3, 2 * sigma),
        ("four of five beyond 1 sigma", 4, 5, sigma),
        ("eight on one side", 8, 8, 0.0),
    )
    found = []
    for side in (1, -1):
        away = [side * (x - mean) for x in points]
        for rule, needed, window, distance in rules:
            beyond = [d > distance for d in away]
            for i in range(window - 1, len(points)):
                if beyond[i] and sum(beyond[i - window + 1 : i + 1]) >= needed:
                    found.append((i, rule))
    return found


def _trends(points: tuple[float, ...]) -> list[tuple[int, str]]:
    steps = [(b > a) - (b < a) for a, b in pairwise(points)]
    found = []
    for i in range(len(points)):
        last_5, last_13 = steps[max(i - 5, 0) : i], steps[max(i - 13, 0) : i]
        if abs(sum(last_5)) == 5:
            found.append((i, "six in a trend"))
        if len(last_13) == 13 and all(a * b == -1 for a, b in pairwise(last_13)):
            found.append((i, "fourteen alternating"))
    return found
