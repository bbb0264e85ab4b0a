"""Points of a log: energy and covered time accumulated at moments, which is what is stored."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from recycling.calc.energy.intervals import US_PER_S, accumulated_at
from recycling.calc.energy.logs import Rule, power_log, unroll_counter
from recycling.tables.energy.blocks import Rows

NONE = np.empty(0, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class EnergyPoints:
    """Accumulated at moments. at_us: µs UTC; kwh; covered_us: covered time, µs."""

    at_us: np.ndarray
    kwh: np.ndarray
    covered_us: np.ndarray

    def __len__(self) -> int:
        return len(self.at_us)


NO_POINTS = EnergyPoints(NONE, NONE.astype(float), NONE)


def joined_points(parts: list[EnergyPoints]) -> EnergyPoints:
    """Points one after another; none at all for no parts."""
    names = ("at_us", "kwh", "covered_us")
    every = parts or [NO_POINTS]
    return EnergyPoints(
        *(np.concatenate([getattr(part, name) for part in every]) for name in names)
    )


class PowerPoints:
    """Points of a power log, block by block, at whole multiples of a spacing and at both ends."""

    def __init__(self, max_gap_s: float, rule: Rule, point_s: int) -> None:
        self._max_gap_s, self._rule, self._spacing_us = max_gap_s, rule, point_s * US_PER_S
        self._last: Rows | None = None
        self._kwh, self._covered_us = 0.0, 0
        self._parts: list[EnergyPoints] = []

    def add(self, rows: Rows) -> None:
        """Take rows that follow the earlier ones in time."""
        if self._last is None:
            self._point(rows.us[:1], np.zeros(1), np.zeros(1, dtype=np.int64))
        else:
            rows = Rows.joined([self._last, rows])
        self._last = rows[-1:]
        if len(rows) < 2:
            return
        log = power_log(rows.us, rows.value, max_gap_s=self._max_gap_s, rule=self._rule)
        first = int(rows.us[0]) // self._spacing_us + 1
        edges = np.arange(first, int(rows.us[-1]) // self._spacing_us + 1) * self._spacing_us
        self._point(edges, *accumulated_at(log, edges))
        self._kwh += float(log.kwh[-1])
        self._covered_us += int(log.covered_us[-1])

    def _point(self, at_us: np.ndarray, kwh: np.ndarray, covered_us: np.ndarray) -> None:
        self._parts.append(EnergyPoints(at_us, kwh + self._kwh, covered_us + self._covered_us))

    def finished(self) -> EnergyPoints:
        """All points, the last row among them."""
        points = joined_points(self._parts)
        if self._last is not None and self._last.us[0] != points.at_us[-1]:
            self._point(self._last.us, np.zeros(1), np.zeros(1, dtype=np.int64))
            points = joined_points(self._parts)
        return points


class RowPoints:
    """Points at every row, made from all rows once the last one is there."""

    def __init__(self, make: Callable[[Rows], EnergyPoints]) -> None:
        self._make = make
        self._parts: list[Rows] = []

    def add(self, rows: Rows) -> None:
        """Take rows that follow the earlier ones in time."""
        self._parts.append(rows)

    def finished(self) -> EnergyPoints:
        """All points."""
        return self._make(Rows.joined(self._parts)) if self._parts else NO_POINTS


def counter_points(rows: Rows, rollover_kwh: float | None, are_resets: bool) -> EnergyPoints:
    """Points of a counter's readings; no points where it fell and nobody said why."""
    falls = np.flatnonzero(np.diff(rows.value) < 0) + 1
    if len(rows) < 2:
        return NO_POINTS
    try:
        kwh = unroll_counter(
            rows.value, rollover_kwh=rollover_kwh, resets=falls.tolist() if are_resets else ()
        )
    except ValueError:
        return NO_POINTS
    return EnergyPoints(rows.us, kwh, rows.us - rows.us[0])


def interval_points(rows: Rows, interval_s: float, max_gap_s: float) -> EnergyPoints:
    """Points of energies that each belong to the time that ends at their row.

    A row covers the time since the one before it; after a gap, and at the start, one usual
    interval.
    """
    usual_us = round(interval_s * US_PER_S)
    before = np.concatenate(([rows.us[0] - usual_us], rows.us[:-1]))
    is_gap = rows.us - before > max_gap_s * US_PER_S
    start = np.where(is_gap, np.maximum(before, rows.us - usual_us), before)
    kwh, covered_us = np.cumsum(rows.value), np.cumsum(rows.us - start)
    opens = np.flatnonzero(start != before)
    opens = np.concatenate(([0], opens[opens > 0])) if usual_us else opens
    at_us = np.concatenate((start[opens], rows.us))
    order = np.argsort(at_us, kind="stable")
    kwh = np.concatenate((kwh[opens] - rows.value[opens], kwh))[order]
    covered = np.concatenate((covered_us[opens] - (rows.us - start)[opens], covered_us))[order]
    return EnergyPoints(at_us[order], kwh, covered)
