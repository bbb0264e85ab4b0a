"""Changeover: whether two polymers can follow each other in a barrel, and the plan for it.

A window is the range of temperature in which a polymer or a purge compound is processed; two
whose windows do not overlap need a compound between them whose window overlaps both (common
practice). The mass that each washing takes comes from the model in `washout`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from recycling.calc.guards import finite, positive
from recycling.calc.process.washout import Barrel, purge_mass_g

CAUTION = (
    "Hot metal and melt burn, and an overheated polymer gives off fumes: ventilate, wear what"
    " the machine's manual asks for, stand clear of the nozzle, and follow the polymer's data"
    " sheet and local rules."
)
"""Shown beside every plan and warning."""


@dataclass(frozen=True, slots=True)
class Window:
    """Processing window of a polymer or purge compound: its name and its two ends in °C."""

    name: str
    low_c: float
    high_c: float

    def __post_init__(self) -> None:
        finite("low_c", self.low_c)
        if finite("high_c", self.high_c) <= self.low_c:
            raise ValueError(f"the window of {self.name} ends at or below its start")


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of a plan.

    Attributes
    ----------
    feed : str
        What is in the hopper during it.
    temperatures_c : tuple of float
        Set points of all zones together, in order, °C; the first holds when the step starts.
    mass_g : float
        Mass to be fed, g; 0 for a step that only moves the temperature.
    sentence : str
        The step in words.
    """

    feed: str
    temperatures_c: tuple[float, ...]
    mass_g: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A changeover plan.

    Attributes
    ----------
    possible : bool
        Whether there is a way; without one there are no steps, and a warning says why.
    purge : str
        Name of the bridging compound; empty where the windows overlap.
    steps : tuple of PlanStep
        In the order of work.
    purge_g, flush_g : float
        Mass of compound, and of the next polymer until the residue is reached, g.
    warnings : tuple of str
        What to look out for; the caution last.
    """

    possible: bool
    purge: str
    steps: tuple[PlanStep, ...]
    purge_g: float
    flush_g: float
    warnings: tuple[str, ...]


def overlap(a: Window, b: Window) -> Window | None:
    """Temperatures, °C, at which both can be processed, or None where there are none.

    Windows that only touch leave no room for a zone to swing, and count as apart.

    Examples
    --------
    >>> overlap(Window("A", 180, 240), Window("B", 250, 300)) is None
    True
    """
    low, high = max(a.low_c, b.low_c), min(a.high_c, b.high_c)
    return Window(f"{a.name} and {b.name}", low, high) if low < high else None


def bridging(before: Window, after: Window, compounds: Sequence[Window]) -> list[Window]:
    """Compounds whose window overlaps both others, the widest smaller overlap first, °C.

    Examples
    --------
    >>> wide, narrow = Window("wide", 170, 320), Window("narrow", 200, 245)
    >>> [c.name for c in bridging(Window("A", 250, 300), Window("B", 180, 240), [narrow, wide])]
    ['wide']
    """

    def room(compound: Window) -> float:
        shared = (overlap(before, compound), overlap(compound, after))
        return min(w.high_c - w.low_c if w else 0.0 for w in shared)

    return sorted((c for c in compounds if room(c) > 0), key=room, reverse=True)


def temperature_steps(start_c: float, end_c: float, step_c: float) -> tuple[float, ...]:
    """Set points from one temperature to another, both included, °C.

    No step is larger than `step_c`, which must be positive, else ValueError.

    Examples
    --------
    >>> temperature_steps(230, 218, 5)
    (230, 225, 220, 218)
    """
    span_c = finite("end_c", end_c) - finite("start_c", start_c)
    count = math.ceil(abs(span_c) / positive("step_c", step_c) - 1e-9)
    sign = 1 if span_c > 0 else -1
    return (start_c, *(start_c + sign * step_c * i for i in range(1, count)), *[end_c][:count])


def window_warnings(held: Window, temperature_c: float) -> tuple[str, ...]:
    """Warn when a barrel holds a polymer at a temperature, °C, outside its window.

    Returns no sentence inside the window, else what is wrong and, above it, the caution.

    Examples
    --------
    >>> window_warnings(Window("A", 180, 240), 210)
    ()
    """
    if finite("temperature_c", temperature_c) > held.high_c:
        too_hot = (
            f"{held.name} at {temperature_c:g} °C is above its window, which ends at"
            f" {held.high_c:g} °C: it degrades in the barrel. Purge it out or cool down."
        )
        return too_hot, CAUTION
    if temperature_c < held.low_c:
        return (
            f"{held.name} at {temperature_c:g} °C is below its window, which starts at"
            f" {held.low_c:g} °C: do not turn the screw until it has melted.",
        )
    return ()


def plan_changeover(
    before: Window,
    after: Window,
    compounds: Sequence[Window],
    barrel: Barrel,
    *,
    start_c: float,
    target_c: float,
    residue: float,
    step_c: float,
) -> Plan:
    """Plan the way from the polymer in the barrel to the next one.

    Parameters
    ----------
    before, after : Window
        What the barrel holds, and what comes next.
    compounds : sequence of Window
        Purge compounds at hand.
    barrel : Barrel
        Hold-up and flow model.
    start_c, target_c : float
        Set temperature now, and the one for the next polymer, °C.
    residue : float
        Share of the former material that each washing may leave.
    step_c : float
        Largest change of the set temperature at a time, °C.

    Returns
    -------
    Plan
        Straight over where the windows overlap; else over the bridging compound with most
        room. The barrel never holds a material outside its window on the way.

    Raises
    ------
    ValueError
        For a figure out of range, or one material on both sides: nothing to change over.

    Examples
    --------
    >>> hot, cool, bridge = Window("A", 250, 300), Window("B", 180, 240), Window("C", 170, 320)
    >>> plan = plan_changeover(hot, cool, [bridge], Barrel(41.5), start_c=270, target_c=210,
    ...                        residue=0.01, step_c=30)
    >>> [(s.feed, s.temperatures_c) for s in plan.steps]
    [('C', (270,)), ('C', (270, 240)), ('B', (240,)), ('B', (240, 210))]
    """
    if before.name == after.name:
        raise ValueError(f"{before.name} follows itself: there is nothing to change over")
    mass_g = purge_mass_g(residue, barrel)
    temperature_steps(start_c, target_c, step_c)
    warnings = (*window_warnings(before, start_c)[:1], *window_warnings(after, target_c)[:1])
    direct, bridges = overlap(before, after), bridging(before, after, compounds)
    if direct is None and not bridges:
        none = f"No purge compound at hand bridges {before.name} and {after.name}."
        return Plan(False, "", (), 0.0, 0.0, (*warnings, none, CAUTION))
    chain = [before, after] if direct else [before, bridges[0], after]
    steps = _steps(chain, mass_g, start_c, target_c, step_c)
    purge, purge_g = ("", 0.0) if direct else (bridges[0].name, mass_g)
    return Plan(True, purge, steps, purge_g, mass_g, (*warnings, CAUTION))


def _steps(
    chain: Sequence[Window], mass_g: float, start_c: float, target_c: float, step_c: float
) -> tuple[PlanStep, ...]:
    steps, now_c = [], start_c
    for held, fed in pairwise(chain):
        low_c, high_c = max(held.low_c, fed.low_c), min(held.high_c, fed.high_c)
        meet_c = min(max(now_c, low_c), high_c)
        if meet_c != now_c:
            steps.append(_move(held.name, now_c, meet_c, step_c))
            now_c = meet_c
        text = f"Feed {mass_g:.0f} g of {fed.name}, until the melt no longer shows {held.name}."
        steps.append(PlanStep(fed.name, (now_c,), mass_g, text))
    if target_c != now_c:
        steps.append(_move(chain[-1].name, now_c, target_c, step_c))
    return tuple(steps)


def _move(feed: str, start_c: float, end_c: float, step_c: float) -> PlanStep:
    text = f"Bring all zones together from {start_c:g} to {end_c:g} °C, {feed} in the barrel."
    return PlanStep(feed, temperature_steps(start_c, end_c, step_c), 0.0, text)
