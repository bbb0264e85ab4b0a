"""Compositions of many runs, computed afresh in the order material met them."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from graphlib import TopologicalSorter
from itertools import zip_longest

from recycling.calc.keys import Key
from recycling.calc.lots.composition import Composition, well_mixed
from recycling.calc.lots.feed_order import feed_order
from recycling.calc.lots.prefix_mixing import mixed_so_far

Masses = tuple[tuple[Key, int], ...]


@dataclass(frozen=True)
class FeedLog:
    """What is known of when a run was fed and gave.

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
    fed_at : tuple of datetime or None
        When each of `fed` was fed, None for what lay in the hopper first; empty where that is not
        known.
    cut_at : tuple of datetime
        When each of `given` was taken off; empty where that is not known.
    in_order : bool
        Whether it came out in the order fed; else each output is mixed of what was there by then.
    """

    heels: frozenset[Key]
    fed: Masses
    given: tuple[Key, ...]
    left: Key | None = None
    fed_at: tuple[datetime | None, ...] = ()
    cut_at: tuple[datetime, ...] = ()
    in_order: bool = True


@dataclass(frozen=True, slots=True)
class Portion:
    """What a run took of a lot at once: its mass, mg, and when, where a refill says so."""

    lot: Key
    mass_mg: int
    at: datetime | None = None


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
        When it was fed and gave; None for a run that is mixed of all that it drew.
    returned : frozenset of lot
        Lots given that are what was drawn, back again.
    besides : frozenset of lot
        Lots drawn that are never what comes back: purge compound and heels.
    """

    draws: Masses
    outputs: tuple[tuple[Key, int, Key | None], ...]
    log: FeedLog | None = None
    returned: frozenset[Key] = frozenset()
    besides: frozenset[Key] = frozenset()


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
    Each run is composed once, after all that it drew on: in feed order, mixed of what was there
    when an output was cut (``recycling.calc.lots.prefix_mixing``), or well mixed where it has no
    log.

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
    if run.returned:
        back, rest = taken_back(run)
        parts = [
            (lot, _mixture(fed or run.draws, mass_mg, ChainMap(made, known), floor_ppm))
            for lot, mass_mg, fed in back
        ]
        return [*parts, *_given(rest, known, made, floor_ppm)]
    known_now = ChainMap(made, known)
    if run.log and run.log.in_order:
        return in_feed_order(run, run.log, known_now, floor_ppm)
    outputs = [lot for lot, _, _ in run.outputs]
    masses = [mass_mg for _, mass_mg, _ in run.outputs]
    mixed = _so_far(run, run.log, known_now, floor_ppm) if run.log else None
    if mixed is None:
        draws = [(known_now.get(lot, {}), mass_mg) for lot, mass_mg in run.draws]
        mixed = well_mixed(draws, masses, floor_ppm)
    return list(zip(outputs, mixed, strict=True))


def _so_far(
    run: RunMasses, log: FeedLog, known: Mapping[Key, Composition], floor_ppm: int
) -> list[Composition] | None:
    taken = portions(run.draws, log)
    cut = dict(zip(log.given, log.cut_at, strict=False))
    if not log.cut_at or all(one.at is None or one.at <= log.cut_at[0] for one in taken):
        return None  # all was fed before the first output: one mixture
    return mixed_so_far(
        [(known.get(one.lot, {}), one.mass_mg) for one in taken],
        [one.at for one in taken],
        [mass_mg for _, mass_mg, _ in run.outputs],
        [cut.get(lot) for lot, _, _ in run.outputs],
        floor_ppm,
    )


def _mixture(
    draws: Masses, mass_mg: int, known: Mapping[Key, Composition], floor_ppm: int
) -> Composition:
    (mixed,) = well_mixed([(known.get(lot, {}), mg) for lot, mg in draws], [mass_mg], floor_ppm)
    return mixed


def taken_back(run: RunMasses) -> tuple[list[tuple[Key, int, Masses]], RunMasses]:
    """Say what came back out of a hopper: what was fed last, not the run's mixture.

    Parameters
    ----------
    run : RunMasses
        What it drew, in the order drawn or fed, and gave; masses in mg.

    Returns
    -------
    list of (lot, int, tuple of (lot, int))
        Each lot that came back, its mass in mg, and what of which draw it is: from the last one
        back to the first, purge compound and heel left out; none where nothing of that is left.
    RunMasses
        The run without them: the rest of the draws, and the other lots that it gave.

    Examples
    --------
    >>> run = RunMasses((("a", 5), ("b", 3)), (("x", 4, None), ("y", 4, None)), None, {"y"})
    >>> back, rest = taken_back(run)
    >>> back, rest.draws
    ([('y', 4, (('b', 3), ('a', 1)))], (('a', 4),))
    """
    log = run.log or FeedLog(frozenset(), (), ())
    left = portions(run.draws, log)
    back: list[tuple[Key, int, Masses]] = []
    for lot, mass_mg, _ in run.outputs:
        if lot not in run.returned:
            continue
        parts: list[tuple[Key, int]] = []
        rest_mg = mass_mg
        for place in reversed(range(len(left))):
            one = left[place]
            kept = one.lot in run.besides or one.lot in log.heels
            part = 0 if kept else min(rest_mg, one.mass_mg)
            if part:
                left[place], rest_mg = replace(one, mass_mg=one.mass_mg - part), rest_mg - part
                parts.append((one.lot, part))
        back.append((lot, mass_mg, tuple(parts)))
    masses = {lot: 0 for lot, _ in run.draws}
    for one in left:
        masses[one.lot] += one.mass_mg
    queued = [one for one in left if one.mass_mg and one.lot not in log.heels]
    fed = tuple((one.lot, one.mass_mg) for one in queued)
    rest = replace(
        run,
        draws=tuple((lot, mass_mg) for lot, mass_mg in masses.items() if mass_mg),
        outputs=tuple(one for one in run.outputs if one[0] not in run.returned),
        log=replace(run.log, fed=fed, fed_at=tuple(one.at for one in queued)) if run.log else None,
        returned=frozenset(),
    )
    return back, rest


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
    order = given_in_order(run, log)
    found = feed_order(
        [(known.get(lot, {}), mass_mg) for lot, mass_mg in run.draws if lot in log.heels],
        [(known.get(lot, {}), mass_mg) for lot, mass_mg in queue(run.draws, log)],
        [masses[lot] for lot in order],
        masses.get(log.left, 0),
        floor_ppm,
    )
    made = list(zip(order, found.outputs, strict=True))
    return [*made, (log.left, found.heel)] if log.left in masses else made


def given_in_order(run: RunMasses, log: FeedLog) -> list[Key]:
    """List what a run gave in the order given, without the heel that was left.

    Parameters
    ----------
    run : RunMasses
        What it drew and gave, mg.
    log : FeedLog
        What is known of the order; what it does not name comes last.

    Returns
    -------
    list of lot

    Examples
    --------
    >>> run = RunMasses((), (("y", 4, None), ("h", 1, None), ("x", 6, None)))
    >>> given_in_order(run, FeedLog(frozenset(), (), ("x",), "h"))
    ['x', 'y']
    """
    made = {lot: None for lot, _, _ in run.outputs}
    named = [lot for lot in log.given if lot in made]
    return [lot for lot in dict.fromkeys((*named, *made)) if lot != log.left]


def portions(draws: Masses, log: FeedLog) -> list[Portion]:
    """List what a run took in, one by one: its heels, then what was fed in that order.

    Parameters
    ----------
    draws : tuple of (lot, int)
        Lots drawn from, and mass in mg.
    log : FeedLog
        What was logged. A refill counts for no more than was drawn of its lot; what no refill
        speaks of lay in the hopper first.

    Returns
    -------
    list of Portion

    Examples
    --------
    >>> log = FeedLog(frozenset({"h"}), (("b", 3), ("a", 2)), ())
    >>> [(one.lot, one.mass_mg) for one in portions((("h", 1), ("a", 5), ("b", 3)), log)]
    [('h', 1), ('a', 3), ('b', 3), ('a', 2)]
    """
    rest = {lot: mass_mg for lot, mass_mg in draws if lot not in log.heels}
    later = []
    for (lot, mass_mg), at in zip_longest(log.fed, log.fed_at):
        part = min(mass_mg, rest.get(lot, 0))
        if part:
            rest[lot] -= part
            later.append(Portion(lot, part, at))
    heels = [Portion(lot, mass_mg) for lot, mass_mg in draws if lot in log.heels]
    hopper = [Portion(lot, mass_mg) for lot, mass_mg in rest.items() if mass_mg]
    return [*heels, *hopper, *later]


def queue(draws: Masses, log: FeedLog) -> list[tuple[Key, int]]:
    """Put what a run drew into the order fed, heels left out.

    Parameters
    ----------
    draws : tuple of (lot, int)
        Lots drawn from, and mass in mg.
    log : FeedLog
        What was logged.

    Returns
    -------
    list of (lot, int)
        In the order fed, mg.

    Examples
    --------
    >>> log = FeedLog(frozenset({"h"}), (("b", 3), ("a", 2)), ())
    >>> queue((("h", 1), ("a", 5), ("b", 3)), log)
    [('a', 3), ('b', 3), ('a', 2)]
    """
    return [(one.lot, one.mass_mg) for one in portions(draws, log) if one.lot not in log.heels]
