"""Flow through an extruder while it runs: what is in the hopper and how fast it goes.

State q = ln(g/h for each turn of the screw), b = ln of true over read flow (density and calliper
together), M = mass in the hopper, M₀ = mass in it that no longer feeds, W = mass since the last
lot was taken off; all at one moment, with their covariance.

Sources
-------
.. [1] R. E. Kalman: A new approach to linear filtering and prediction problems, Journal of Basic
   Engineering 82 (1960), 35 to 45: how a state and its covariance move on and take up a reading.
.. [2] Geometry of a round thread: flow = ρ·π·d²/4·v. With ρ in g/cm³, d in mm and v in mm/s that
   is mg/s, times 3.6 in g/h.
.. [3] NIST/SEMATECH e-Handbook of Statistical Methods, 6.4.4.3: mean of neighbours that resemble
   each other by a: its variance is larger by about (1 + a)/(1 − a).

How fast the flow wanders, what a refill or another temperature does to it, what stays in a hopper
and how far density and calliper are off are first settings from memory: see `Wander`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from recycling.calc.guards import finite, not_negative, positive, some

Q, B, M, DEAD, W = range(5)
STATES = 5
STEP_MIN = 2.0


@dataclass(frozen=True, slots=True)
class Wander:
    """How a flow moves by itself, from memory: a first setting, not checked on any machine.

    Attributes
    ----------
    per_10_min, at_refill, at_heat : float
        Standard deviation of ln of the flow that ten minutes, a refill and a change of a
        temperature add.
    u_bias : float
        Of ln of true over read flow.
    dead_g, u_dead_g : float
        What stays in a hopper that no longer feeds.
    neighbours : float
        How much readings at one moment resemble each other, 0 to 1.
    least_u_mm : float
        Least standard deviation of one reading of a diameter.
    u_moment_min : float
        How well the moment is known at which a lot was taken off.
    """

    per_10_min: float = 0.008
    at_refill: float = 0.012
    at_heat: float = 0.03
    u_bias: float = 0.011
    dead_g: float = 25.0
    u_dead_g: float = 6.0
    neighbours: float = 0.4
    least_u_mm: float = 0.008
    u_moment_min: float = 1.0


@dataclass(frozen=True, slots=True)
class Event:
    """Something noted at an extruder; what is None or empty was not noted.

    Attributes
    ----------
    minutes : float
        When, in minutes of any clock.
    screw_rpm, puller_mm_s : float or None
        What was set then.
    heated : bool
        Whether a temperature was set then.
    fed_g, u_fed_g : float or None
        What was put in the hopper.
    holds_g, u_holds_g : float or None
        What the hopper was found to hold.
    diameters_mm : tuple of float
        Diameters read; zero or less where no strand came.
    off_g, u_off_g : float or None
        Mass of the lots taken off.
    """

    minutes: float
    screw_rpm: float | None = None
    puller_mm_s: float | None = None
    heated: bool = False
    fed_g: float | None = None
    u_fed_g: float = 1.0
    holds_g: float | None = None
    u_holds_g: float = 1.0
    diameters_mm: tuple[float, ...] = ()
    off_g: float | None = None
    u_off_g: float = 1.0


@dataclass(slots=True)
class Flow:
    """What is known of a flow at a moment.

    Attributes
    ----------
    minutes : float
        That moment.
    screw_rpm, puller_mm_s : float or None
        What is set.
    x, p : list
        State and covariance, in the order q, b, M, M₀, W.
    readings : int
        How many readings told the flow.
    read_at : float or None
        When the last of them was made, minutes.
    unfit : list of float
        Moments of readings that do not fit and were not used.
    """

    minutes: float
    screw_rpm: float | None
    puller_mm_s: float | None
    x: list[float]
    p: list[list[float]]
    readings: int = 0
    read_at: float | None = None
    unfit: list[float] = field(default_factory=list)

    @property
    def g_per_h(self) -> float:
        """Flow now, g/h."""
        return (self.screw_rpm or 1.0) * math.exp(self.x[Q])

    @property
    def u_relative(self) -> float:
        """Standard uncertainty of the flow, in parts of itself."""
        return math.sqrt(self.p[Q][Q])


def strand_flow_g_per_h(diameter_mm: float, puller_mm_s: float, density_g_per_cm3: float) -> float:
    """Mass that a strand carries away, g/h: 3.6·ρ·π·d²/4·v [2]_.

    Diameter in mm, speed in mm/s, density in g/cm³, all positive, else ValueError.

    Examples
    --------
    >>> round(strand_flow_g_per_h(1.75, 34.47, 1.34), 1)
    400.0
    """
    area_mm2 = math.pi * positive("diameter_mm", diameter_mm) ** 2 / 4
    density = positive("density_g_per_cm3", density_g_per_cm3)
    return 3.6 * density * area_mm2 * positive("puller_mm_s", puller_mm_s)


def mean_diameter(diameters_mm: Sequence[float], wander: Wander) -> tuple[float, float]:
    """Mean of diameters read at one moment and its standard uncertainty, mm [3]_.

    With fewer than three the scatter is taken as 0.05 mm, from memory. Raises ValueError for none.

    Examples
    --------
    >>> mean, u = mean_diameter([1.74, 1.75, 1.76], Wander())
    >>> round(mean, 3), round(u, 4)
    (1.75, 0.0088)
    """
    n = len(some("diameters_mm", diameters_mm))
    mean = math.fsum(positive("diameters_mm", one) for one in diameters_mm) / n
    sd = 0.05
    if n > 2:
        sd = math.sqrt(math.fsum((one - mean) ** 2 for one in diameters_mm) / (n - 1))
    alike = math.sqrt((1 + wander.neighbours) / (1 - wander.neighbours))
    return mean, max(sd, wander.least_u_mm) / math.sqrt(n) * alike


def follow(
    events: Iterable[Event],
    until: float,
    density_g_per_cm3: float,
    wander: Wander | None = None,
    first_g: tuple[float, float] = (0.0, 0.0),
) -> Flow | None:
    """Follow a flow through what was noted, up to a moment.

    Parameters
    ----------
    events : iterable of Event
        What was noted, in any order; later ones than `until` are left out.
    until : float
        The moment, in minutes of their clock.
    density_g_per_cm3 : float
        Of the strand.
    wander : Wander, optional
        How a flow moves by itself.
    first_g : (float, float)
        What was in the hopper before, with its standard uncertainty, g.

    Returns
    -------
    Flow or None
        State then; None while nothing tells the flow: neither a diameter with a puller speed, nor
        a second lot taken off. Material flows from the first puller speed or first lot on. A
        reading more than five of its standard uncertainties off is set aside, unless the next
        one is off to the same side: then the flow did change.

    Raises
    ------
    ValueError
        For a figure out of range.

    Examples
    --------
    >>> noted = [Event(0, puller_mm_s=34.47, fed_g=500), Event(6, diameters_mm=(1.74, 1.75, 1.76))]
    >>> flow = follow(noted, 30, 1.34)
    >>> round(flow.g_per_h), round(flow.x[M])
    (400, 300)
    """
    positive("density_g_per_cm3", density_g_per_cm3)
    said = sorted((one for one in events if one.minutes <= until), key=lambda one: one.minutes)
    rough = _first_flow(said, density_g_per_cm3)
    if rough is None:
        return None
    follower = _Follower(wander or Wander(), density_g_per_cm3, rough, first_g)
    for event in said:
        follower.go_to(event.minutes)
        follower.take(event)
    follower.go_to(until)
    return follower.flow


def _first_flow(said: Sequence[Event], density: float) -> tuple[float, float] | None:
    """When material began to flow, and the first flow that anything tells, g/h."""
    starts = [one.minutes for one in said if one.puller_mm_s or one.off_g is not None]
    speed: float | None = None
    off_at: float | None = None
    for event in said:
        speed = event.puller_mm_s or speed
        if event.diameters_mm and min(event.diameters_mm) > 0 and speed:
            mean = math.fsum(event.diameters_mm) / len(event.diameters_mm)
            return starts[0], strand_flow_g_per_h(mean, speed, density)
        if event.off_g is not None:
            if off_at is not None and event.minutes > off_at and event.off_g > 0:
                return starts[0], event.off_g / (event.minutes - off_at) * 60
            off_at = event.minutes
    return None


class _Follower:
    """Moves a state on from one event to the next."""

    def __init__(
        self, wander: Wander, density: float, rough: tuple[float, float], first_g: tuple[float, ...]
    ) -> None:
        self.wander, self.density, self.starts = wander, density, rough[0]
        x = [math.log(rough[1]), 0.0, first_g[0], wander.dead_g, 0.0]
        sds = (0.3, wander.u_bias, first_g[1], wander.u_dead_g, 0.0)
        p = [[sds[i] ** 2 if i == j else 0.0 for j in range(STATES)] for i in range(STATES)]
        self.flow = Flow(-math.inf, None, None, x, p)
        self.off_before, self.missed = False, 0.0

    def go_to(self, minutes: float) -> None:
        """Let time pass: the hopper empties, the flow wanders."""
        flow = self.flow
        now = max(flow.minutes, self.starts)
        while minutes - now > 1e-9:
            step = min(STEP_MIN, minutes - now)
            passed = flow.g_per_h * step / 60
            flow.x[M] -= passed
            flow.x[W] += passed
            self._move(passed)
            flow.p[Q][Q] += self.wander.per_10_min**2 * step / 10
            now += step
        flow.minutes = minutes

    def _move(self, passed: float) -> None:
        """F·P·Fᵀ for F = 1 but for dM/dq = −passed and dW/dq = passed."""
        p = self.flow.p
        for row in p:
            row[M] -= passed * row[Q]
            row[W] += passed * row[Q]
        for j in range(STATES):
            p[M][j] -= passed * p[Q][j]
            p[W][j] += passed * p[Q][j]

    def take(self, event: Event) -> None:
        """Take up what was noted."""
        self._set(event)
        flow = self.flow
        if event.fed_g is not None:
            flow.x[M] += not_negative("fed_g", event.fed_g)
            flow.p[M][M] += event.u_fed_g**2
            flow.p[Q][Q] += self.wander.at_refill**2
        if event.holds_g is not None:
            self._read({M: 1.0}, event.holds_g, max(event.u_holds_g, 1e-6), told=False)
        if event.off_g is not None:
            self._take_off(event.off_g, event.u_off_g)
        if event.diameters_mm and min(event.diameters_mm) <= 0:
            flow.unfit.append(event.minutes)
        elif event.diameters_mm and flow.puller_mm_s:
            mean, u = mean_diameter(event.diameters_mm, self.wander)
            read = strand_flow_g_per_h(mean, flow.puller_mm_s, self.density)
            per_turn = math.log(read / (flow.screw_rpm or 1.0))
            self._read({Q: 1.0, B: -1.0}, per_turn, 2 * u / mean, event.minutes)

    def _set(self, event: Event) -> None:
        flow = self.flow
        if event.screw_rpm:
            positive("screw_rpm", event.screw_rpm)
            if flow.screw_rpm is None:
                flow.x[Q] -= math.log(event.screw_rpm)
            flow.screw_rpm = event.screw_rpm
        flow.puller_mm_s = event.puller_mm_s or flow.puller_mm_s
        if event.heated:
            flow.p[Q][Q] += self.wander.at_heat**2

    def _take_off(self, off_g: float, u_off_g: float) -> None:
        """Read W off the scale, then begin anew; from when to when the first grew is not known."""
        flow = self.flow
        if self.off_before and flow.x[W] > 0:
            moment_g = flow.g_per_h * self.wander.u_moment_min / 60
            self._read({W: 1.0}, off_g, math.hypot(u_off_g, moment_g), flow.minutes)
        self.off_before = True
        flow.x[W] = 0.0
        for i in range(STATES):
            flow.p[i][W] = flow.p[W][i] = 0.0

    def _read(
        self,
        what: dict[int, float],
        value: float,
        u: float,
        at: float | None = None,
        told: bool = True,
    ) -> None:
        """Take up one reading of a sum of states [1]_, or set it aside."""
        flow = self.flow
        column = [math.fsum(row[j] * h for j, h in what.items()) for row in flow.p]
        variance = math.fsum(column[j] * h for j, h in what.items()) + u**2
        off = finite("a reading", value) - math.fsum(flow.x[j] * h for j, h in what.items())
        if told and abs(off) > 5 * math.sqrt(variance):
            if off * self.missed <= 0:
                self.missed = off
                flow.unfit.append(flow.minutes)
                return
            widen = 0.3**2
            flow.p[Q][Q] += widen
            self.missed = 0.0
            self._read(what, value, u, at, told=False)
            flow.readings, flow.read_at = flow.readings + 1, at
            return
        for i in range(STATES):
            flow.x[i] += column[i] / variance * off
        for i in range(STATES):
            for j in range(STATES):
                flow.p[i][j] -= column[i] * column[j] / variance
        if told:
            flow.readings, flow.read_at, self.missed = flow.readings + 1, at, 0.0
