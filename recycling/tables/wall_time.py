"""Wall-clock times of a zone to UTC, over changes of the clock, for whole columns at once."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

US_PER_S = 1_000_000
DAY_US = 86_400 * US_PER_S
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

RepeatedHour = Literal["by order", "first", "second"]


@dataclass(frozen=True)
class ClockChange:
    """A change of the clock. at_us: moment, µs UTC; before_us, after_us: offsets from UTC, µs."""

    at_us: int
    before_us: int
    after_us: int

    @property
    def wall(self) -> tuple[int, int]:
        """Wall times that do not exist (clock forward) or come twice (clock back), µs."""
        first, last = sorted((self.before_us, self.after_us))
        return self.at_us + first, self.at_us + last


def _offset_us(zone: ZoneInfo, at_us: int) -> int:
    ahead = (EPOCH + timedelta(microseconds=at_us)).astimezone(zone).utcoffset()
    assert ahead is not None, "a zone has an offset at every moment"
    return ahead // timedelta(microseconds=1)


def clock_changes(zone: ZoneInfo, first_us: int, last_us: int) -> list[ClockChange]:
    """Changes of a zone's clock between two moments (µs UTC), each to the second.

    Raises nothing. Looks once a day and halves the day in which the offset differs.

    Examples
    --------
    >>> year = 1735689600 * US_PER_S
    >>> changes = clock_changes(ZoneInfo("Europe/Berlin"), year, year + 365 * DAY_US)
    >>> [change.at_us // US_PER_S for change in changes]
    [1743296400, 1761440400]
    """
    found = []
    start, before = first_us, _offset_us(zone, first_us)
    while start < last_us:
        end = min(start + DAY_US, last_us)
        after = _offset_us(zone, end)
        if after != before:
            low, high = start // US_PER_S, -(-end // US_PER_S)
            while high - low > 1:
                middle = (low + high) // 2
                same = _offset_us(zone, middle * US_PER_S) == before
                low, high = (middle, high) if same else (low, middle)
            found.append(ClockChange(high * US_PER_S, before, after))
        start, before = end, after
    return found


@dataclass(frozen=True, eq=False)
class Localised:
    """Wall times in UTC. at_us: µs UTC. missing: times that the clock skipped. undecided: times
    that came twice, where the order does not tell which."""

    at_us: np.ndarray
    missing: np.ndarray
    undecided: np.ndarray


class WallClock:
    """Turns columns of wall times of one zone into UTC, looking each clock change up once."""

    def __init__(self, zone: ZoneInfo, repeated_hour: RepeatedHour = "by order") -> None:
        self._zone = zone
        self._repeated_hour = repeated_hour
        self._known: tuple[int, int] | None = None
        self._changes: list[ClockChange] = []
        self._base_us = 0

    def _look_up(self, first_us: int, last_us: int) -> None:
        if self._known is None or first_us < self._known[0] or last_us > self._known[1]:
            old = self._known or (first_us, last_us)
            low = min(first_us, old[0]) - 40 * DAY_US
            high = max(last_us, old[1]) + 40 * DAY_US
            self._known = (low + 2 * DAY_US, high - 2 * DAY_US)
            self._changes = clock_changes(self._zone, low, high)
            self._base_us = _offset_us(self._zone, low)

    def held_from(self, wall_us: np.ndarray) -> int:
        """Where the rows at the end start that lie in a repeated hour which may still go on."""
        if not len(wall_us) or self._repeated_hour != "by order":
            return len(wall_us)
        self._look_up(int(wall_us.min()), int(wall_us.max()))
        for change in self._changes:
            low, high = change.wall
            if change.after_us < change.before_us and low <= wall_us[-1] < high:
                outside = np.flatnonzero((wall_us < low) | (wall_us >= high))
                return int(outside[-1]) + 1 if outside.size else 0
        return len(wall_us)

    def to_utc(self, wall_us: np.ndarray) -> Localised:
        """Wall times (µs, in the order they were written) to UTC; raises nothing, marks instead."""
        missing = np.zeros(len(wall_us), dtype=bool)
        undecided = missing.copy()
        if not len(wall_us):
            return Localised(wall_us, missing, undecided)
        self._look_up(int(wall_us.min()), int(wall_us.max()))
        offset_us = np.full(len(wall_us), self._base_us)
        for change in self._changes:
            low, high = change.wall
            offset_us[wall_us >= high] = change.after_us
            between = np.flatnonzero((wall_us >= low) & (wall_us < high))
            if not between.size:
                continue
            if change.after_us > change.before_us:
                missing[between] = True
            else:
                second, is_told = self._second_pass(wall_us[between])
                offset_us[between] = np.where(second, change.after_us, change.before_us)
                undecided[between] = not is_told
        return Localised(wall_us - offset_us, missing, undecided)

    def _second_pass(self, wall_us: np.ndarray) -> tuple[np.ndarray, bool]:
        if self._repeated_hour != "by order":
            return np.full(len(wall_us), self._repeated_hour == "second"), True
        back = np.flatnonzero(np.diff(wall_us) < 0)
        second = np.zeros(len(wall_us), dtype=bool)
        if len(back) == 1:
            second[back[0] + 1 :] = True
        return second, len(back) == 1
