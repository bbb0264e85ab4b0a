"""Who is in what an extruder gave, in the order fed: a queue of feeds into one mixed barrel.

Sources
-------
.. [1] O. Levenspiel, Chemical Reaction Engineering, 3rd ed. (1999), ch. 11 and 12: the mixed
   vessel of constant hold-up, dc/dx = (c_in - c)/H in the mass x that has passed.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import expm1

import numpy as np

from recycling.calc.keys import Key
from recycling.calc.lots.composition import TRACES, Composition, collect_traces, take
from recycling.calc.lots.two_way import largest_remainders, two_way

WELL_MIXED, FEED_ORDER = "well mixed", "feed order"
MODELS = (WELL_MIXED, FEED_ORDER)
"""How the origins of what a run gave are computed."""

BY_WHAT_IS_KNOWN = ""
"""Not chosen by anybody: feed order where the order is known, else well mixed."""

STATED_ORDER, NOT_KNOWN = "stated order", "order not known"
"""What shares rest on besides feed order: an order that a person stated; none that is known."""

Fed = tuple[Mapping[Key, int], int]
"""Composition of the lot and mass taken from it, mg."""


@dataclass(frozen=True, slots=True)
class InFeedOrder:
    """Composition, mg, of each output in the order given, and of the heel that was left."""

    outputs: tuple[Composition, ...]
    heel: Composition


def feed_order(
    heel: Sequence[Fed],
    feeds: Sequence[Fed],
    outputs_mg: Sequence[int],
    heel_left_mg: int,
    floor_ppm: int = 0,
) -> InFeedOrder:
    """Compose what came out of a barrel that is perfectly mixed and fed by a queue.

    Parameters
    ----------
    heel : sequence of (composition, mass)
        What was in the barrel at the start, mg.
    feeds : sequence of (composition, mass)
        What was fed, in that order, mg.
    outputs_mg : sequence of int
        What came out, in that order, mg.
    heel_left_mg : int
        What was left in the barrel at the end, mg.
    floor_ppm : int
        Least share of an output that keeps its name, in parts per million.

    Returns
    -------
    InFeedOrder
        Whole milligrams: each output adds up to its mass, and each origin over outputs, heel and
        loss to what was drawn of it.

    Raises
    ------
    ValueError
        If a mass is negative.

    Notes
    -----
    The hold-up H is the larger of the heels at start and end: a barrel with less in it fills up
    before it gives, and one that ends with less runs out at the end. What was lost is taken off
    the feeds in proportion (off the heel too where less came out than the heel). While a feed of
    constant composition c_k enters, c(x) = c_k + (c(x0) - c_k) exp(-(x - x0)/H); an output gets
    the integral of c over its stretch of x, in closed form [1]_. Without any heel H is zero and
    the outputs are the queue itself.

    Examples
    --------
    A heel of 60 g, two feeds, three outputs, 10 g lost; masses in mg:

    >>> found = feed_order([({"O": 60_000}, 60_000)], [({"A": 1}, 400_000), ({"B": 1}, 600_000)],
    ...                    [150_000, 500_000, 340_000], 60_000)
    >>> found.outputs[1]
    {'A': 300206, 'B': 194870, 'O': 4924}
    """
    masses = [*(mass for _, mass in (*heel, *feeds)), *outputs_mg, heel_left_mg]
    if any(mass < 0 for mass in masses):
        raise ValueError("masses of a run cannot be negative")
    taken = [take(composition, mass) for composition, mass in (*heel, *feeds)]
    origins = sorted({one for part in taken for one in part}, key=_place)
    table = np.array([[part.get(one, 0) for one in origins] for part in taken], dtype=np.int64)
    table = table.reshape(len(taken), len(origins))
    seen_mg = [*outputs_mg, heel_left_mg]
    made: list[Composition]
    if not origins:
        made = [{TRACES: mass} if mass else {} for mass in seen_mg]
        return InFeedOrder(tuple(made[:-1]), made[-1])
    given = _whole(table, _quotas(table, len(heel), outputs_mg, heel_left_mg), seen_mg)
    made = [
        collect_traces(
            {one: mass for one, mass in zip(origins, row, strict=True) if mass}, floor_ppm
        )
        for row in given.tolist()
    ]
    return InFeedOrder(tuple(made[: len(outputs_mg)]), made[len(outputs_mg)])


def passed_on(
    heel_mg: Sequence[float],
    feeds_mg: Sequence[float],
    outputs_mg: Sequence[int],
    heel_left_mg: int,
) -> np.ndarray:
    """Say what part of each output comes from each portion, by the same washout.

    Parameters
    ----------
    heel_mg, feeds_mg : sequence of float
        Portions that were in the barrel at the start, and those fed, in that order, mg.
    outputs_mg : sequence of int
        What came out, in that order, mg.
    heel_left_mg : int
        What was left in the barrel at the end, mg.

    Returns
    -------
    numpy.ndarray of float, shape (outputs + 1, portions)
        Mass fractions; each row adds up to 1, or is 0 where nothing came out. The last row is the
        heel that was left.

    Raises
    ------
    Nothing.

    Notes
    -----
    The washout is linear, so whatever a portion bears goes the way that its mass goes: the shares
    of origins of ``feed_order`` are these fractions times the shares in the portions.

    Examples
    --------
    >>> passed_on([100.0], [1000.0, 1000.0], [150, 750, 700, 400], 100)[1].round(6)
    array([0.029734, 0.970266, 0.      ])
    """
    table = np.diag(np.asarray([*heel_mg, *feeds_mg], dtype=float))
    given = _quotas(table, len(heel_mg), outputs_mg, heel_left_mg)
    whole = given.sum(axis=1, keepdims=True)
    return np.divide(given, whole, out=np.zeros_like(given), where=whole > 0)


def _place(origin: Key) -> tuple[bool, Key]:
    return origin is TRACES, 0 if origin is TRACES else origin


def _whole(table: np.ndarray, quotas_mg: np.ndarray, seen_mg: list[int]) -> np.ndarray:
    """Round outputs and heel; what was lost is one more row, a gain is shared over the origins."""
    drawn_mg = table.sum(axis=0)
    lost_mg = int(drawn_mg.sum()) - sum(seen_mg)
    if lost_mg < 0:
        columns = largest_remainders(quotas_mg.sum(axis=0), sum(seen_mg))
        return two_way(quotas_mg, seen_mg, columns)
    lost = np.maximum(drawn_mg - quotas_mg.sum(axis=0), 0.0)
    return two_way(np.vstack([quotas_mg, lost]), [*seen_mg, lost_mg], drawn_mg)


def _quotas(
    table: np.ndarray, heels: int, outputs_mg: Sequence[int], heel_left_mg: int
) -> np.ndarray:
    """What each output and, last, the heel gets of each origin, mg, not yet rounded."""
    barrel = table[:heels].sum(axis=0, dtype=float)
    feeds = table[heels:].astype(float)
    fed_mg, held_mg = feeds.sum(), barrel.sum()
    through_mg = sum(outputs_mg) + heel_left_mg - held_mg
    if fed_mg and through_mg >= 0:
        feeds *= through_mg / fed_mg
    else:
        kept = (sum(outputs_mg) + heel_left_mg) / ((held_mg + fed_mg) or 1.0)
        barrel, feeds = barrel * kept, feeds * kept
    out = np.zeros((len(outputs_mg) + 1, table.shape[1]))
    ends = np.cumsum(np.asarray(outputs_mg, dtype=float))
    for start, end, mass in _passing(barrel, feeds, heel_left_mg, out[-1]):
        _share_out(out, ends, start, end, mass)
    return out


Passed = tuple[float, float, "Stretch"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Mass that passes while one feed enters: inlet share, barrel at its start, and hold-up H.

    Without an inlet the barrel runs out: its composition stays as it is.
    """

    inlet: np.ndarray | None
    barrel: np.ndarray
    held_mg: float

    def given(self, start_mg: float, end_mg: float) -> np.ndarray:
        """What comes out between two places in the stretch, by origin, mg."""
        length = end_mg - start_mg
        if self.inlet is None:
            return self.barrel * (length / self.held_mg)
        if not self.held_mg:
            return self.inlet * length
        excess = self.barrel - self.inlet * self.held_mg
        gone = np.exp(-start_mg / self.held_mg) * -expm1(-length / self.held_mg)
        return self.inlet * length + excess * gone


def _passing(
    barrel: np.ndarray, feeds: np.ndarray, heel_left_mg: int, heel: np.ndarray
) -> Iterator[Passed]:
    """Yield stretches of what passes; put what stays in the barrel at the end into `heel`."""
    held_mg = max(barrel.sum(), float(heel_left_mg))
    lacking, place = held_mg - barrel.sum(), 0.0
    for feed in feeds:
        mass = feed.sum()
        if not mass:
            continue
        filling = min(lacking, mass)
        barrel, lacking = barrel + feed * (filling / mass), lacking - filling
        length = mass - filling
        if length <= 0:
            continue
        stretch = Stretch(feed / mass, barrel, held_mg)
        yield place, place + length, stretch
        barrel = barrel + stretch.inlet * length - stretch.given(0.0, length)
        place += length
    over = barrel.sum() - heel_left_mg
    if over > 0 and barrel.sum():
        yield place, np.inf, Stretch(None, barrel, barrel.sum())
        barrel = barrel * (heel_left_mg / barrel.sum())
    heel += np.maximum(barrel, 0.0)


def _share_out(
    out: np.ndarray, ends: np.ndarray, start: float, end: float, stretch: Stretch
) -> None:
    """Give each output what passes between its two places, mg."""
    first = int(np.searchsorted(ends, start, side="right"))
    at = start
    for place in range(first, len(ends)):
        until = min(end, ends[place])
        if until > at:
            out[place] += np.maximum(stretch.given(at - start, until - start), 0.0)
        at = max(at, until)
        if end <= ends[place]:
            return
