"""Changeover: the cheapest safe way from the polymer in a barrel to the next one.

Two materials can meet in a barrel where their temperature ranges share enough room, away from
the ends and from melting points. Where they share too little, a purge compound goes between,
and the zones move while it alone is in the barrel. The mass that each washing takes comes from
the model in `washout`; rates of heating, cooling and feeding are settings.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from recycling.calc.guards import finite, positive, share
from recycling.calc.process.temperature_ranges import (
    CAUTION,
    LEAST_ROOM_K,
    Window,
    kept_inside,
    meeting_c,
    shared_room,
    window_warnings,
)
from recycling.calc.process.washout import Barrel, purge_mass_g
from shared.said import say

MOST_BETWEEN = 2
"""Purge compounds that a plan may use one after the other."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a machine heats, cools and is fed; all are settings, all positive.

    Attributes
    ----------
    up_k_per_min, down_k_per_min : float
        Rates of all zones together, K/min.
    wait_min : float
        Wait after a move until the melt has followed, min; may be 0.
    wash_g_per_min, creep_g_per_min : float
        Feed while washing, and while the zones move, g/min.
    freeze : float
        Share of the former material up to which the zones may leave its range.
    """

    up_k_per_min: float = 3.0
    down_k_per_min: float = 1.5
    wait_min: float = 12.0
    wash_g_per_min: float = 8.0
    creep_g_per_min: float = 2.0
    freeze: float = 0.05

    def __post_init__(self) -> None:
        for name in ("up_k_per_min", "down_k_per_min", "wash_g_per_min", "creep_g_per_min"):
            positive(name, getattr(self, name))
        if finite("wait_min", self.wait_min) < 0:
            raise ValueError("the wait cannot be negative")
        if not 0 < share("freeze", self.freeze) < 1:
            raise ValueError("the freeze limit lies between 0 and 1")

    def move_min(self, start_c: float, end_c: float) -> float:
        """Time of one ramp and one wait, min; 0 where nothing moves."""
        if start_c == end_c:
            return 0.0
        rate = self.up_k_per_min if end_c > start_c else self.down_k_per_min
        return abs(end_c - start_c) / rate + self.wait_min


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of a plan.

    Attributes
    ----------
    feed : str
        What is fed during it.
    temperatures_c : tuple of float
        Set point of all zones together, °C: one that holds, or the two ends of a ramp.
    mass_g : float
        Mass to be fed, g.
    minutes : float
        Time it takes, min.
    margin_k : float
        Smallest distance of anything in the barrel from an end of its range where it stays, K.
    sentence : str
        The step in words.
    """

    feed: str
    temperatures_c: tuple[float, ...]
    mass_g: float
    minutes: float
    margin_k: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A changeover plan.

    Attributes
    ----------
    bridges : tuple of str
        Purge compounds between, in order; empty where the two can follow each other.
    steps : tuple of PlanStep
        In the order of work; none where there is no way, and a warning says what lacks.
    warnings : tuple of str
        What to look out for; the caution last.
    """

    bridges: tuple[str, ...]
    steps: tuple[PlanStep, ...]
    warnings: tuple[str, ...]

    @property
    def possible(self) -> bool:
        """Whether there is a way."""
        return bool(self.steps)

    @property
    def minutes(self) -> float:
        """Time of all steps, min."""
        return math.fsum(step.minutes for step in self.steps)

    @property
    def margin_k(self) -> float:
        """Smallest margin of all steps, K; 0 without steps."""
        return min((step.margin_k for step in self.steps), default=0.0)

    def mass_g(self, *materials: str) -> float:
        """Mass to be fed of some materials, g."""
        return math.fsum(step.mass_g for step in self.steps if step.feed in materials)


def plan_changeover(
    before: Window,
    after: Window,
    compounds: Sequence[Window],
    barrel: Barrel,
    pace: Pace,
    *,
    start_c: float,
    target_c: float,
    residue: float,
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
    pace : Pace
        Rates of heating, cooling and feeding.
    start_c, target_c : float
        Set temperature now, and the one for the next polymer, °C.
    residue : float
        Share of the former material that may be left in the end.

    Returns
    -------
    Plan
        Straight over where the two share room; else over the purge compounds, two at most, that
        take the fewest minutes, then grams. A purge compound is fed until the share of the
        former material is at the freeze limit, and the rest while the zones move.

    Raises
    ------
    ValueError
        For a figure out of range, or one material on both sides: nothing to change over.

    Examples
    --------
    >>> hot, cool, bridge = Window("A", 250, 300), Window("B", 180, 240), Window("C", 170, 320)
    >>> plan = plan_changeover(hot, cool, [bridge], Barrel(60.0), Pace(), start_c=275,
    ...                        target_c=210, residue=0.01)
    >>> [(s.feed, s.temperatures_c, round(s.mass_g), round(s.minutes)) for s in plan.steps]
    [('C', (275,), 180, 22), ('C', (275, 210), 111, 55), ('B', (210,), 276, 35)]
    """
    if before.name == after.name:
        raise ValueError(f"{before.name} follows itself: there is nothing to change over")
    purge_mass_g(residue, barrel)
    finite("start_c", start_c)
    end_c = kept_inside(after, target_c)
    warnings = [*window_warnings(before, start_c)[:1]]
    if end_c != target_c:
        warnings.append(
            say(
                "{asked_c:g} °C is too near an end of the temperature range of {material}. The"
                " plan ends at {end_c:g} °C.",
                asked_c=target_c,
                material=after.name,
                end_c=end_c,
            )
        )
    ways = [
        (chain, _steps(chain, barrel, pace, start_c, end_c, residue))
        for chain in _chains(before, after, compounds)
    ]
    if not ways:
        return Plan((), (), (*warnings, *_lacking(before, after), CAUTION))
    chain, steps = min(ways, key=lambda way: _cost(way[1]))
    return Plan(tuple(one.name for one in chain[1:-1]), steps, (*warnings, CAUTION))


def _chains(
    before: Window, after: Window, compounds: Sequence[Window]
) -> Iterator[tuple[Window, ...]]:
    """Give straight over where the two share room, else every way over one or two compounds."""
    if shared_room(before, after):
        yield before, after
        return
    at_hand = [one for one in compounds if one.name not in (before.name, after.name)]
    for between in range(1, MOST_BETWEEN + 1):
        for bridges in permutations(at_hand, between):
            chain = (before, *bridges, after)
            if all(shared_room(a, b) for a, b in pairwise(chain)):
                yield chain


def _cost(steps: tuple[PlanStep, ...]) -> tuple[float, float]:
    return math.fsum(one.minutes for one in steps), math.fsum(one.mass_g for one in steps)


def _steps(
    chain: Sequence[Window],
    barrel: Barrel,
    pace: Pace,
    start_c: float,
    target_c: float,
    residue: float,
) -> tuple[PlanStep, ...]:
    """Set out one chain: meet, wash, move, and so on to the target."""
    clean_g, steps, now_c = purge_mass_g(residue, barrel), [], start_c
    meets = [*_meetings(chain, start_c, target_c), target_c]
    if meets[0] != now_c:
        steps.append(_move(chain[0], now_c, meets[0], pace))
    for (held, fed), now_c, next_c in zip(pairwise(chain), meets, meets[1:], strict=False):
        wash_g = clean_g
        if fed is not chain[-1] and next_c != now_c:
            moved_g = pace.creep_g_per_min * pace.move_min(now_c, next_c)
            wash_g = max(purge_mass_g(pace.freeze, barrel), clean_g - moved_g)
        steps.append(_wash(held, fed, now_c, wash_g, pace))
        if next_c != now_c:
            steps.append(_move(fed, now_c, next_c, pace))
    return tuple(steps)


def _meetings(chain: Sequence[Window], start_c: float, target_c: float) -> list[float]:
    """Temperatures of all meetings: the first near the start, the last near the target."""
    meets, near_c = [], start_c
    for place, (held, fed) in enumerate(pairwise(chain)):
        last = place == len(chain) - 2
        meet_c = meeting_c(held, fed, target_c if last else near_c)
        assert meet_c is not None
        meets.append(meet_c)
        near_c = meet_c
    return meets


def _wash(held: Window, fed: Window, at_c: float, mass_g: float, pace: Pace) -> PlanStep:
    text = say(
        "Feed {mass_g:.0f} g of {fed}, until the melt shows no more {held}.",
        mass_g=mass_g,
        fed=fed.name,
        held=held.name,
    )
    margin_k = min(held.margin_k(at_c), fed.margin_k(at_c))
    return PlanStep(fed.name, (at_c,), mass_g, mass_g / pace.wash_g_per_min, margin_k, text)


def _move(fed: Window, start_c: float, end_c: float, pace: Pace) -> PlanStep:
    minutes = pace.move_min(start_c, end_c)
    text = say(
        "Bring all zones together from {start_c:g} to {end_c:g} °C, then wait {wait_min:g} min."
        " Keep feeding {fed} slowly, about {creep:g} g a minute.",
        start_c=start_c,
        end_c=end_c,
        wait_min=pace.wait_min,
        fed=fed.name,
        creep=pace.creep_g_per_min,
    )
    mass_g = pace.creep_g_per_min * minutes
    return PlanStep(fed.name, (start_c, end_c), mass_g, minutes, fed.margin_k(end_c), text)


def _lacking(before: Window, after: Window) -> list[str]:
    """Say which temperature range would make a plan possible."""
    narrow = [one for one in (before, after) if one.high_c - one.least_c < LEAST_ROOM_K]
    if narrow:
        return [
            say(
                "{material} can be worked from {low_c:g} to {high_c:g} °C, {room_k:g} °C above"
                " its melting point. That leaves less than {room_k:g} °C for a plan.",
                material=one.name,
                low_c=one.least_c,
                high_c=one.high_c,
                room_k=LEAST_ROOM_K,
            )
            for one in narrow
        ]
    hot, cool = sorted((before, after), key=lambda one: one.least_c, reverse=True)
    return [
        say(
            "No purge compound at hand bridges {before} and {after}. One that can be worked from"
            " {low_c:g} to {high_c:g} °C would do.",
            before=before.name,
            after=after.name,
            low_c=cool.high_c - LEAST_ROOM_K,
            high_c=hot.least_c + LEAST_ROOM_K,
        )
    ]
