"""Logs of energy as they are stored: from points back to a log, pieces joined, work in sessions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from recycling.calc.energy.intervals import (
    METER,
    MICROJOULE_PER_KWH,
    TRUST,
    EnergyLog,
    Span,
    energy_between,
)
from recycling.calc.guards import not_negative, some
from recycling.calc.keys import Key

WARM_UP = "warm-up"
HOUR_US = 3_600_000_000


@dataclass(frozen=True)
class Session:
    """Work of a machine that hangs together. span: start and end, µs; keys: what is in it."""

    span: Span
    keys: tuple[Key, ...]


def stored_log(
    at_us: Sequence[int] | np.ndarray,
    kwh: Sequence[float] | np.ndarray,
    covered_us: Sequence[int] | np.ndarray,
    method: str,
    *,
    is_each_alone: bool = False,
) -> EnergyLog:
    """Log from stored points: energy and covered time accumulated at moments.

    Between two points power is even over the covered part, which is taken to come first; so both
    energy and covered time are exact at every point.

    Parameters
    ----------
    at_us : moments, whole microseconds since 1970 in UTC, increasing, at least two.
    kwh, covered_us : energy, kWh, and covered time, µs, accumulated at each.
    method : one of `TRUST`.
    is_each_alone : whether points were added up from energies of intervals, each a figure of its
        own; a longer stretch counts as so many of them as the usual one fits into it.

    Returns
    -------
    EnergyLog
        A log that `energy_between` and `session_energy` take.

    Raises
    ------
    ValueError
        If there are fewer than two points, the lists differ in length, or moments do not increase.

    Examples
    --------
    >>> log = stored_log([0, 60, 120], [0.0, 1.0, 1.5], [0, 60, 90], "power log")
    >>> log.at_us.tolist(), log.is_covered.tolist()
    ([0, 60, 90, 120], [True, True, False])

    References
    ----------
    .. [1] Abramowitz and Stegun (1964), 25.2.1: straight-line interpolation.
    """
    moments = np.asarray(at_us, dtype=np.int64)
    energy, covered = np.asarray(kwh, dtype=float), np.asarray(covered_us, dtype=np.int64)
    some("points", moments, 2)
    if not moments.shape == energy.shape == covered.shape:
        raise ValueError(f"{moments.size} moments, {energy.size} energies, {covered.size} times")
    length, seen = np.diff(moments), np.diff(covered)
    if (length <= 0).any():
        raise ValueError("moments of stored points must increase")
    part = np.flatnonzero((seen > 0) & (seen < length))
    edges = np.insert(moments, part + 1, moments[part] + seen[part])
    energy = np.insert(energy, part + 1, energy[part + 1])
    covered = np.insert(covered, part + 1, covered[part + 1])
    is_covered = np.diff(covered) > 0
    power_w = np.diff(energy) * MICROJOULE_PER_KWH / np.diff(edges)
    figures = _figures(np.diff(covered)) if is_each_alone else None
    return EnergyLog(method, edges, power_w, power_w, is_covered, energy, covered, figures)


def _figures(covered_us: np.ndarray) -> np.ndarray:
    some_us = covered_us[covered_us > 0]
    usual_us = float(np.median(some_us)) if some_us.size else 1.0
    counted = np.maximum(np.rint(covered_us / usual_us), 1).astype(np.int64)
    return np.where(covered_us > 0, counted, 0)


def joined_log(logs: Iterable[EnergyLog]) -> EnergyLog:
    """One log of several that follow each other; what lies between them is not covered.

    Raises ValueError for no log, logs of different methods, or logs that overlap: their energy
    would count twice.

    Examples
    --------
    >>> pieces = [stored_log([0, 60], [0.0, 1.0], [0, 60], "power log"),
    ...           stored_log([90, 150], [0.0, 2.0], [0, 60], "power log")]
    >>> log = joined_log(pieces)
    >>> log.kwh.tolist(), log.is_covered.tolist()
    ([0.0, 1.0, 1.0, 3.0], [True, False, True])
    """
    joined: EnergyLog | None = None
    for log in sorted(logs, key=lambda one: int(one.at_us[0])):
        joined = log if joined is None else _after(joined, log)
    if joined is None:
        raise ValueError("no log to join")
    return joined


def _after(first: EnergyLog, second: EnergyLog) -> EnergyLog:
    if first.method != second.method:
        raise ValueError(f"a {first.method} and a {second.method} are not one log")
    apart = int(second.at_us[0] - first.at_us[-1])
    if apart < 0:
        raise ValueError("two logs overlap: their energy would count twice")
    skip, gap = (1, []) if apart == 0 else (0, [0.0])
    uncovered = [False] * len(gap)
    return EnergyLog(
        first.method,
        np.concatenate((first.at_us, second.at_us[skip:])),
        np.concatenate((first.start_w, gap, second.start_w)),
        np.concatenate((first.end_w, gap, second.end_w)),
        np.concatenate((first.is_covered, np.array(uncovered, dtype=bool), second.is_covered)),
        np.concatenate((first.kwh, first.kwh[-1] + second.kwh[skip:])),
        np.concatenate((first.covered_us, first.covered_us[-1] + second.covered_us[skip:])),
        np.concatenate((_counted(first), np.zeros(len(gap), dtype=np.int64), _counted(second))),
    )


def _counted(log: EnergyLog) -> np.ndarray:
    if log.figures is None:
        return np.zeros(len(log.start_w), dtype=np.int64)
    return log.figures


def trusted_log(logs: Iterable[EnergyLog], start_us: int, end_us: int) -> EnergyLog | None:
    """The log that an interval's energy is taken from, or None where none covers any of it.

    Order of trust: meter reading, power log, rated power; of one method the one that covers most.
    A meter comes last where its readings lie so far outside the interval that its even spread is
    a guess: where they reach over more than a quarter and an hour beyond the interval's length.
    Raises ValueError if the end is not after the start.

    Examples
    --------
    >>> meter = stored_log([0, 60], [0.0, 1.0], [0, 60], "meter reading")
    >>> power = stored_log([0, 90], [0.0, 1.0], [0, 90], "power log")
    >>> trusted_log([power, meter], 0, 90).method, trusted_log([power, meter], 70, 90).method
    ('meter reading', 'power log')
    """
    best: EnergyLog | None = None
    best_rank: tuple[int, float] = (2 * len(TRUST), 0.0)
    for log in logs:
        covered = energy_between(log, start_us, end_us).covered_s
        last = len(TRUST) if _is_loose(log, start_us, end_us) else 0
        rank = (TRUST.index(log.method) + last, -covered)
        if covered > 0 and rank < best_rank:
            best, best_rank = log, rank
    return best


def _is_loose(log: EnergyLog, start_us: int, end_us: int) -> bool:
    if log.method != METER:
        return False
    first = max(0, int(np.searchsorted(log.at_us, start_us, side="right")) - 1)
    last = min(len(log.at_us) - 1, int(np.searchsorted(log.at_us, end_us, side="left")))
    return int(log.at_us[last] - log.at_us[first]) > 1.25 * (end_us - start_us) + HOUR_US


def sessions(work: Iterable[tuple[Key, Span]], gap_us: int) -> list[Session]:
    """Work of one machine in sessions: what follows within a gap hangs together.

    Parameters
    ----------
    work : what was done, (key, (start, end) in µs), in any order.
    gap_us : longest time between two pieces of work of one session, µs, not negative.

    Returns
    -------
    list of Session
        In time order; every piece is in exactly one.

    Raises
    ------
    ValueError
        If the gap is negative or an end is before its start.

    Examples
    --------
    >>> [s.keys for s in sessions([("A", (0, 10)), ("C", (50, 60)), ("B", (12, 20))], 5)]
    [('A', 'B'), ('C',)]

    References
    ----------
    .. [1] Closed form: the connected pieces of a union of intervals.
    """
    not_negative("gap_us", gap_us)
    found: list[Session] = []
    for key, (start, end) in sorted(work, key=lambda one: one[1]):
        if end < start:
            raise ValueError(f"{key} ends before it starts")
        if found and start - found[-1].span[1] <= gap_us:
            last = found[-1]
            found[-1] = Session((last.span[0], max(last.span[1], end)), (*last.keys, key))
        else:
            found.append(Session((start, end), (key,)))
    return found


def named_phases(
    session: Span, runs: Iterable[Span], phases: Iterable[tuple[str, Span]]
) -> list[tuple[str, Span]]:
    """Phases of a session; what nobody named before its first run is its warm-up.

    Raises ValueError when there is no run.

    Examples
    --------
    >>> named_phases((0, 100), [(40, 90)], [("purge", (90, 100))])
    [('purge', (90, 100)), ('warm-up', (0, 40))]
    """
    first_us = min(some("runs", [start for start, _ in runs]))
    named = list(phases)
    return [*named, (WARM_UP, (session[0], first_us))] if session[0] < first_us else named
