"""Who is in what a well-mixed run gave while it went on: what was fed until then, less what left.

An output holds nothing that was fed after it was taken off. It is mixed of all that was fed until
then less what earlier outputs took; outputs of one moment are mixed alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby

import numpy as np

from recycling.calc.keys import Key
from recycling.calc.lots.composition import Composition, collect_traces, mix, take

Moments = Sequence[datetime | None]
"""When each was fed or cut; None for what was there from the start, or came out at the end."""


def parts_so_far(
    fed_mg: Sequence[float], fed_at: Moments, outputs_mg: Sequence[float], cut_at: Moments
) -> np.ndarray | None:
    """Say what part of each output comes from each portion fed until it was cut.

    Parameters
    ----------
    fed_mg : sequence of float, shape (n,)
        Portions fed, mg.
    fed_at : sequence of datetime or None
        When; None for what was there from the start.
    outputs_mg : sequence of float, shape (m,)
        What came out, mg.
    cut_at : sequence of datetime or None
        When; None at the end.

    Returns
    -------
    numpy.ndarray of float, shape (m, n), or None
        Mass fractions; each row adds up to 1, or is 0 where nothing was there. None where more was
        cut than had been fed by then: the times cannot be so.

    Examples
    --------
    A kilogram, 0.8 kg out, another kilogram, 0.8 kg out: 0.2 kg of the first was left:

    >>> def at(hour): return datetime(2026, 1, 1, hour)
    >>> parts_so_far([1.0, 1.0], [None, at(9)], [0.8, 0.8], [at(8), at(10)]).round(4).tolist()
    [[1.0, 0.0], [0.1667, 0.8333]]
    """
    fed = np.asarray(fed_mg, dtype=float)
    inside, waiting = np.zeros(len(fed)), fed.copy()
    rows = np.zeros((len(outputs_mg), len(fed)))
    for cut, places in _cuts(cut_at):
        come = np.array([cut is None or at is None or at <= cut for at in fed_at], dtype=bool)
        inside[come] += waiting[come]
        waiting[come] = 0.0
        whole, taken = inside.sum(), sum(outputs_mg[place] for place in places)
        if taken > whole and waiting.sum() > 0:
            return None
        if whole > 0:
            rows[places] = inside / whole
            inside = inside * max(0.0, 1.0 - taken / whole)
    return rows


def mixed_so_far(
    fed: Sequence[tuple[Mapping[Key, int], int]],
    fed_at: Moments,
    outputs_mg: Sequence[int],
    cut_at: Moments,
    floor_ppm: int,
) -> list[Composition] | None:
    """Compose each output of what had been fed when it was cut, less what left before.

    Parameters
    ----------
    fed : sequence of (mapping of origin to int, int)
        Composition of the lot of each portion and mass taken from it, mg.
    fed_at, outputs_mg, cut_at
        As in `parts_so_far`.
    floor_ppm : int
        Least share that keeps its name, in parts per million.

    Returns
    -------
    list of dict of origin to int, or None
        Composition of each output in mg, adding up to its mass exactly; None where the times cannot
        be so.

    Notes
    -----
    The shares are those of ``parts_so_far``, in whole milligrams by largest remainders. While
    nothing more is fed, outputs are parts of one mixture, as in ``well_mixed``.

    Examples
    --------
    >>> def at(hour): return datetime(2026, 1, 1, hour)
    >>> fed = [({"A": 1}, 1000), ({"B": 1}, 1000)]
    >>> mixed_so_far(fed, [None, at(9)], [800, 800], [at(8), at(10)], 1)
    [{'A': 800}, {'A': 133, 'B': 667}]
    """
    if parts_so_far([mass for _, mass in fed], fed_at, outputs_mg, cut_at) is None:
        return None
    waiting = {place: take(*one) for place, one in enumerate(fed)}
    inside: Composition = {}
    taken_mg = 0
    made: dict[int, Composition] = {}
    for cut, places in _cuts(cut_at):
        come = [p for p in waiting if cut is None or (at := fed_at[p]) is None or at <= cut]
        if come:
            left_mg = max(0, sum(inside.values()) - taken_mg)
            inside, taken_mg = mix([take(inside, left_mg), *map(waiting.pop, come)]), 0
        made |= {place: take(inside, outputs_mg[place]) for place in places}
        taken_mg += sum(outputs_mg[place] for place in places)
    return [collect_traces(made[place], floor_ppm) for place in range(len(outputs_mg))]


def _cuts(cut_at: Moments) -> Iterator[tuple[datetime | None, list[int]]]:
    """Give the moments of cuts in order of time, those without one last, each with its outputs."""

    def late(place: int) -> tuple[bool, datetime]:
        at = cut_at[place]
        return (True, datetime.min) if at is None else (False, at)

    for (_, at), places in groupby(sorted(range(len(cut_at)), key=late), key=late):
        listed = list(places)
        yield (None if cut_at[listed[0]] is None else at), listed
