"""When loads of a dryer have to start, reckoned backwards from the first minute of feeding.

Load k of K is needed once all before it are fed: needed_k = T + (fed before)/q. One dryer takes
one load after another, so from the last to the first end_k = min(needed_k, start_{k+1} − reload)
and start_k = end_k − recipe; heat-up comes before the first. That is backward scheduling of one
machine by due dates: no load can end later without one being late [1]_.

Sources
-------
.. [1] M. L. Pinedo, Scheduling: Theory, Algorithms, and Systems, 5th ed. (2016), 3.1 and 3.2: jobs
   of one machine in the order of their due dates, from the last to the first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from recycling.calc.guards import finite, not_negative, positive

_CRUMB = 1e-9


@dataclass(frozen=True, slots=True)
class Dryer:
    """What a dryer takes: kg a load, and minutes at temperature, to heat up and to reload."""

    load_kg: float
    recipe_min: float
    heat_up_min: float = 0.0
    reload_min: float = 0.0

    def __post_init__(self) -> None:
        positive("load_kg", self.load_kg)
        positive("recipe_min", self.recipe_min)
        not_negative("heat_up_min", self.heat_up_min)
        not_negative("reload_min", self.reload_min)


@dataclass(frozen=True, slots=True)
class Load:
    """One load: its kg, and the minutes at which it goes in, is dry, and is needed.

    `sealed` says that it waits longer than flake may lie open, and is kept closed till then.
    """

    kg: float
    start: float
    end: float
    needed: float
    sealed: bool


@dataclass(frozen=True, slots=True)
class Drying:
    """The loads of a day.

    Attributes
    ----------
    loads : tuple of Load
        In the order of feeding.
    on : float
        Minute at which the dryer is switched on for the first.
    late_min : float
        By how many minutes that is before the door opens: starting so much later, all can be
        dried on the day; zero where it can be anyway.
    before : int
        How many of the first loads would have to be dried the day before, and sealed, to start
        in time all the same.
    """

    loads: tuple[Load, ...]
    on: float
    late_min: float
    before: int


def split(kg: float, load_kg: float) -> tuple[float, ...]:
    """Split what is to be dried into full loads and a rest, which is the last.

    Examples
    --------
    >>> split(3.5, 1.5)
    (1.5, 1.5, 0.5)
    """
    positive("kg", kg)
    positive("load_kg", load_kg)
    count = max(math.ceil(kg / load_kg - _CRUMB), 1)
    return (*[float(load_kg)] * (count - 1), kg - load_kg * (count - 1))


def backwards(
    begin: float, kg: float, feed_kg_h: float, dryer: Dryer, open_min: float, opening: float
) -> Drying:
    """Say when each load of a dryer starts, so that feeding may begin at a minute and go on.

    Parameters
    ----------
    begin, opening : float
        Minutes, from any beginning: when feeding starts, and from when on somebody is there.
    kg, feed_kg_h : float
        What is fed, and how fast, kg and kg/h.
    dryer : Dryer
        Its loads and times.
    open_min : float
        For how many minutes dried flake may lie open.

    Returns
    -------
    Drying
        Every load as late as it can be; no two share a minute.

    Raises
    ------
    ValueError
        For an amount or a rate that is not positive, or a time that is no number.

    Examples
    --------
    >>> dryer = Dryer(load_kg=1.5, recipe_min=270, heat_up_min=30, reload_min=15)
    >>> day = backwards(15 * 60, 3.0, 0.6, dryer, open_min=60, opening=9 * 60)
    >>> [(load.start / 60, load.end / 60, load.sealed) for load in day.loads]
    [(8.25, 12.75, True), (13.0, 17.5, False)]
    >>> day.on / 60, day.late_min, day.before
    (7.75, 75.0, 1)
    """
    finite("begin", begin)
    finite("opening", opening)
    positive("feed_kg_h", feed_kg_h)
    not_negative("open_min", open_min)
    sizes = split(kg, dryer.load_kg)
    loads: list[Load] = []
    free = math.inf
    for place in reversed(range(len(sizes))):
        needed = begin + 60 * sum(sizes[:place]) / feed_kg_h
        end = min(needed, free)
        start = end - dryer.recipe_min
        loads.append(Load(sizes[place], start, end, needed, needed - end > open_min + _CRUMB))
        free = start - dryer.reload_min
    loads.reverse()
    in_time = [load.start - dryer.heat_up_min >= opening - _CRUMB for load in loads]
    on = loads[0].start - dryer.heat_up_min
    late = 0.0 if in_time[0] else opening - on
    return Drying(tuple(loads), on, late, in_time.count(False))
