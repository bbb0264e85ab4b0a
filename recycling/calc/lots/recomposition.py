"""Compositions of many runs, computed afresh in the order material met them."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter

from recycling.calc.keys import Key
from recycling.calc.lots.composition import Composition, well_mixed
from recycling.calc.lots.feed_order import feed_order

Masses = tuple[tuple[Key, int], ...]


@dataclass(frozen=True)
class FeedLog:
    """What is known of the order in a run that is computed in feed order.

    Attributes
    ----------
    heels : frozenset of lot
        Lots that were in the barrel at the start.
    fed : tuple of (lot, int)
        What was fed as it was logged, in that order, in mg.
    given : tuple of lot
        Lots in the order given; one that is not named comes after them.
    left : lot or None
        The heel that was left.
    """

    heels: frozenset[Key]
    fed: Masses
    given: tuple[Key, ...]
    left: Key | None = None


@dataclass(frozen=True)
class RunMasses:
    """What a run drew and gave.

    Attributes
    ----------
    draws : tuple of (lot, int)
        Lots drawn from, and mass in mg.
    outputs : tuple of (lot, int, origin or None)
        Lots given, their mass in mg, and the origin of a lot that came in as it is.
    log : FeedLog or None
        For a run that is computed in feed order; None for a well-mixed one.
    """

    draws: Masses
    outputs: tuple[tuple[Key, int, Key | None], ...]
    log: FeedLog | None = None


def recompose(
    runs: Mapping[Key, RunMasses],
    known: dict[Key, Composition],
    floor_ppm: int,
) -> dict[Key, Composition]:
    """Compose every lot that these runs gave.

    Parameters
    ----------
    runs : mapping of run to RunMasses
        The runs, in any order.
    known : mapping of lot to composition
        Compositions of lots that other runs gave, in mg.
    floor_ppm : int
        Least share that keeps its name, in parts per million.

    Returns
    -------
    dict of lot to composition
        In mg; each adds up to its lot's mass exactly.

    Raises
    ------
    graphlib.CycleError
        If a run draws, over whatever others, on what it gave.

    Notes
    -----
    Each run is composed once, after all that it drew on: well mixed, as in
    ``recycling.calc.lots.composition``, or in feed order where it has a log.

    Examples
    --------
    >>> runs = {1: RunMasses((), (("a", 5, "A"),)), 2: RunMasses((("a", 5),), (("b", 4, None),))}
    >>> recompose(runs, {}, 1)
    {'a': {'A': 5}, 'b': {'A': 4}}
    """
    makers = {lot: run for run, masses in runs.items() for lot, _, _ in masses.outputs}
    order = TopologicalSorter(
        {
            run: {makers[lot] for lot, _ in masses.draws if lot in makers}
            for run, masses in runs.items()
        }
    ).static_order()
    made: dict[Key, Composition] = {}
    for run in order:
        for lot, parts in _given(runs[run], known, made, floor_ppm):
            made[lot] = parts
    return made


def _given(
    run: RunMasses,
    known: dict[Key, Composition],
    made: dict[Key, Composition],
    floor_ppm: int,
) -> list[tuple[Key, Composition]]:
    came = [(lot, {origin: mass} if mass else {}) for lot, mass, origin in run.outputs if origin]
    if came:
        return came
    if run.log:
        return in_feed_order(run, run.log, ChainMap(made, known), floor_ppm)
    draws = [(made.get(lot) or known.get(lot, {}), mass_mg) for lot, mass_mg in run.draws]
    outputs = [(lot, mass_mg) for lot, mass_mg, _ in run.outputs]
    mixed = well_mixed(draws, [mass_mg for _, mass_mg in outputs], floor_ppm)
    return [(lot, parts) for (lot, _), parts in zip(outputs, mixed, strict=True)]


def in_feed_order(
    run: RunMasses, log: FeedLog, known: Mapping[Key, Composition], floor_ppm: int
) -> list[tuple[Key, Composition]]:
    """Compose what one run gave in the order it was fed.

    Parameters
    ----------
    run : RunMasses
        What it drew and gave, mg.
    log : FeedLog
        What is known of the order.
    known : mapping of lot to composition
        Compositions of the lots it drew, mg.
    floor_ppm : int
        Least share that keeps its name, in parts per million.

    Returns
    -------
    list of (lot, composition)
        In mg; each adds up to its lot's mass exactly.

    Raises
    ------
    ValueError
        If a mass is negative.

    Examples
    --------
    >>> run = RunMasses((("a", 6), ("b", 4)), (("y", 4, None), ("x", 6, None)))
    >>> log = FeedLog(frozenset(), (("a", 6), ("b", 4)), ("x", "y"))
    >>> in_feed_order(run, log, {"a": {"A": 6}, "b": {"B": 4}}, 1)
    [('x', {'A': 6}), ('y', {'B': 4})]
    """
    masses = {lot: mass_mg for lot, mass_mg, _ in run.outputs}
    named = [lot for lot in log.given if lot in masses]
    order = [lot for lot in dict.fromkeys((*named, *masses)) if lot != log.left]
    found = feed_order(
        [(known.get(lot, {}), mass_mg) for lot, mass_mg in run.draws if lot in log.heels],
        [(known.get(lot, {}), mass_mg) for lot, mass_mg in queue(run.draws, log)],
        [masses[lot] for lot in order],
        masses.get(log.left, 0),
        floor_ppm,
    )
    made = list(zip(order, found.outputs, strict=True))
    return [*made, (log.left, found.heel)] if log.left in masses else made


def queue(draws: Masses, log: FeedLog) -> list[tuple[Key, int]]:
    """Put what a run drew into the order fed; what no refill speaks of lay in the hopper first.

    Parameters
    ----------
    draws : tuple of (lot, int)
        Lots drawn from, and mass in mg.
    log : FeedLog
        What was logged. A refill counts for no more than was drawn of its lot.

    Returns
    -------
    list of (lot, int)
        In the order fed, mg; the heels are left out.

    Examples
    --------
    >>> log = FeedLog(frozenset({"h"}), (("b", 3), ("a", 2)), ())
    >>> queue((("h", 1), ("a", 5), ("b", 3)), log)
    [('a', 3), ('b', 3), ('a', 2)]
    """
    rest = {lot: mass_mg for lot, mass_mg in draws if lot not in log.heels}
    later = []
    for lot, mass_mg in log.fed:
        part = min(mass_mg, rest.get(lot, 0))
        if part:
            rest[lot] -= part
            later.append((lot, part))
    return [(lot, mass_mg) for lot, mass_mg in rest.items() if mass_mg] + later
