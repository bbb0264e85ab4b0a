"""Whether a flow falls or rises: cumulative sums of what neither screw nor puller explain.

Sources
-------
.. [1] E. S. Page: Continuous inspection schemes, Biometrika 41 (1954), 100 to 115: the cumulative
   sum that starts again at zero.
.. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3, Cusum control charts: the same
   sum as a table, with h = 4.1959 and k = 0.3175 in its example.

Slack, h and the scatter between readings are first settings from memory: with them a steady
machine read every five minutes was called about once in two days (simulated; the test says how).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from recycling.calc.guards import finite, not_negative, positive
from recycling.calc.tuning.flow import Event, Wander, mean_diameter

FIRST = 4
POOLED = 9


@dataclass(frozen=True, slots=True)
class Watch:
    """How a flow is watched.

    Attributes
    ----------
    slack : float
        Change of ln of the flow that does not matter.
    slack_up : float
        The same for a flow that rises, which waits better.
    h : float
        Sum, in standard deviations, at which it is called.
    scatter : float
        Standard deviation of ln of the flow between readings, besides that of the readings.
    baseline_min : float
        Time constant with which the usual flow is followed, minutes.
    """

    slack: float = 0.06
    slack_up: float = 0.1
    h: float = 4.0
    scatter: float = 0.015
    baseline_min: float = 60.0


@dataclass(frozen=True, slots=True)
class Call:
    """A flow that changed by itself.

    Attributes
    ----------
    minutes, since : float
        When it was called, and the reading before its sum began to grow.
    falls : bool
        Whether it falls; otherwise it rises.
    ratio : float
        Flow at the call over the usual one.
    """

    minutes: float
    since: float
    falls: bool
    ratio: float


def cumulative_sums(
    values: Sequence[float], target: float, slack: float
) -> list[tuple[float, float]]:
    """Sums of what lies above and below a target, each started again at zero [1]_ [2]_.

    Hᵢ = max(0, Hᵢ₋₁ + xᵢ − target − slack) and Lᵢ = max(0, Lᵢ₋₁ + target − slack − xᵢ), all in the
    unit of the values. Raises ValueError for a slack below zero or a value that is not finite.

    Examples
    --------
    >>> cumulative_sums([1.0, 2.0, -3.0], target=0.0, slack=0.5)
    [(0.5, 0.0), (2.0, 0.0), (0.0, 2.5)]
    """
    not_negative("slack", slack)
    high = low = 0.0
    found = []
    for value in values:
        off = finite("a value", value) - target
        high, low = max(0.0, high + off - slack), max(0.0, low - off - slack)
        found.append((high, low))
    return found


def flow_call(
    events: Iterable[Event],
    until: float,
    watch: Watch | None = None,
    wander: Wander | None = None,
) -> Call | None:
    """Say whether a flow has fallen or risen by itself since the last change of a setting.

    Parameters
    ----------
    events : iterable of Event
        What was noted at the extruder, in any order; later ones than `until` are left out.
    until : float
        The moment, in minutes of their clock.
    watch : Watch, optional
        Slack, limit and scatter.
    wander : Wander, optional
        How readings of a diameter scatter.

    Returns
    -------
    Call or None
        A call that stands at the latest reading. y = ln(d̄²·v/N) is held against the mean of the
        first four readings after a change of a setting, followed slowly while the sum is small.
        A diameter of zero is a strand that does not come, and is called at once.

    Raises
    ------
    ValueError
        For a figure out of range.

    Examples
    --------
    >>> noted = [Event(0, puller_mm_s=34.0)]
    >>> noted += [Event(5 * i, diameters_mm=(1.75,) * 5) for i in range(1, 9)]
    >>> flow_call(noted, 40) is None
    True
    >>> call = flow_call([*noted, Event(45, diameters_mm=(1.40,) * 5)], 45)
    >>> call.falls, round(call.ratio, 2)
    (True, 0.64)
    """
    said = sorted((one for one in events if one.minutes <= until), key=lambda one: one.minutes)
    watcher = _Watcher(watch or Watch(), wander or Wander())
    for event in said:
        if event.screw_rpm or event.puller_mm_s or event.heated:
            watcher.set(event)
        if event.diameters_mm and watcher.speed:
            watcher.read(event)
    return watcher.call


@dataclass(slots=True)
class _Watcher:
    """The two sums at a moment, and the flow that is usual since the last setting."""

    rules: Watch
    wander: Wander
    speed: float = 0.0
    screw: float = 1.0
    call: Call | None = None
    sums: list[float] = field(default_factory=lambda: [0.0, 0.0])
    since: list[float] = field(default_factory=lambda: [0.0, 0.0])
    firsts: list[float] = field(default_factory=list)
    spread: deque[float] = field(default_factory=lambda: deque(maxlen=POOLED))
    base: float = 0.0
    before: float = 0.0

    def set(self, event: Event) -> None:
        """Begin anew: another setting gives another flow."""
        self.speed = event.puller_mm_s or self.speed
        self.screw = event.screw_rpm or self.screw
        self.firsts, self.sums, self.call = [], [0.0, 0.0], None

    def read(self, event: Event) -> None:
        """Take up the diameters read at one moment."""
        if min(event.diameters_mm) <= 0:
            self.call = Call(event.minutes, self.before, falls=True, ratio=0.0)
            return
        mean, u = mean_diameter(event.diameters_mm, self.wander)
        y = 2 * math.log(mean) + math.log(positive("puller_mm_s", self.speed) / self.screw)
        self.spread.append((2 * u / mean) ** 2)
        if len(self.firsts) < FIRST:
            self.firsts.append(y)
            self.base = math.fsum(self.firsts) / len(self.firsts)
        else:
            self._judge(y, event.minutes)
        self.before = event.minutes

    def _judge(self, y: float, minutes: float) -> None:
        rules = self.rules
        variance = rules.scatter**2 + math.fsum(self.spread) / len(self.spread)
        sd = math.sqrt(variance * (1 + 1 / FIRST))
        slacks = (rules.slack / sd, rules.slack_up / sd)
        off = (y - self.base) / sd
        for side, away in enumerate((-off, off)):
            if self.sums[side] == 0.0:
                self.since[side] = self.before
            self.sums[side] = max(0.0, self.sums[side] + away - slacks[side])
        self.call = None
        for side, total in enumerate(self.sums):
            if total > rules.h:
                self.call = Call(minutes, self.since[side], side == 0, math.exp(y - self.base))
        if max(self.sums) <= 1:
            gain = 1 - math.exp(-(minutes - self.before) / rules.baseline_min)
            self.base += gain * (y - self.base)
