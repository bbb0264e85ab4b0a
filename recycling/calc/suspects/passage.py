"""What part of each run's material came from a lot or went through a run, a machine or a hand.

Material is well mixed in a run: each output has the make-up of all that was drawn. A *mark* is
anything that a part of the material can carry from then on: the lot it was, the origin it came
from, the run, machine and people it went through, how long it lay open. The share of a mark in a
run's outputs is the mass fraction that met it at least once, so it never exceeds 1 even where
material goes through the same machine twice.

With f the fraction of the run's input that draw d is, and s the share of the mark in the run that
made the drawn lot, the share in the run is

.. math:: S = 1 \\text{ if the run bears the mark, else } \\sum_d f_d\\,
          (1 \\text{ if draw } d \\text{ bears it, else } s_d)
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter

import numpy as np

from recycling.calc.keys import Key

FLOOR = 1e-7
"""Shares below this part of a run are let go; it is far below what an exposure can be told by."""

Marks = tuple[np.ndarray, np.ndarray]
"""Numbers of marks in rising order, and the share of each."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a run drew from one lot.

    Attributes
    ----------
    maker : hashable
        The run that made the lot; one that is not among the runs brings no marks.
    mass_mg : float
        Mass drawn, mg, not negative.
    marks : tuple of int
        Marks that all of it bears: the lot itself, its origin, how long it lay open.
    """

    maker: Key
    mass_mg: float
    marks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Passing:
    """One run: what it drew, and the marks that everything bears which went through it."""

    drawn: tuple[Drawn, ...]
    marks: tuple[int, ...] = ()


def in_order(runs: Mapping[Key, Passing]) -> list[Key]:
    """Order runs so that each comes after the runs it drew from.

    Parameters
    ----------
    runs : mapping of hashable to Passing
        The runs.

    Returns
    -------
    list
        Their keys.

    Raises
    ------
    graphlib.CycleError
        If runs draw from each other in a circle.

    Examples
    --------
    >>> in_order({"b": Passing((Drawn("a", 1.0),)), "a": Passing(())})
    ['a', 'b']
    """
    sorter: TopologicalSorter = TopologicalSorter()
    for run, passing in runs.items():
        sorter.add(run, *{drawn.maker for drawn in passing.drawn if drawn.maker in runs})
    return list(sorter.static_order())


def carried(runs: Mapping[Key, Passing], marks: int, floor: float = FLOOR) -> dict:
    """Carry marks through all runs, from the origins on.

    Parameters
    ----------
    runs : mapping of hashable to Passing
        Every run on the way, in any order.
    marks : int
        How many marks there are, numbered from 0.
    floor : float
        Shares below it are let go, from 0 to 1.

    Returns
    -------
    dict of hashable to (numpy.ndarray of int, numpy.ndarray of float)
        For each run the marks of its outputs in rising order, and their shares in (0, 1].

    Raises
    ------
    graphlib.CycleError
        If runs draw from each other in a circle.

    Examples
    --------
    Two bags, marks 0 and 1, are shredded together 3 to 1 on a machine, mark 2:

    >>> bags = (Drawn("in", 3.0, (0,)), Drawn("in", 1.0, (1,)))
    >>> found = carried({"shred": Passing(bags, (2,))}, marks=3)
    >>> found["shred"][0].tolist(), found["shred"][1].tolist()
    ([0, 1, 2], [0.75, 0.25, 1.0])
    """
    sums = np.zeros(marks)
    found: dict[Key, Marks] = {}
    nothing: Marks = (np.zeros(0, dtype=np.int64), np.zeros(0))
    for run in in_order(runs):
        passing = runs[run]
        whole = sum(drawn.mass_mg for drawn in passing.drawn)
        met = [
            _mix(sums, found.get(drawn.maker, nothing), drawn, drawn.mass_mg / whole)
            for drawn in passing.drawn
            if whole
        ]
        met.append(np.array(passing.marks, dtype=np.int64))
        numbers = np.unique(np.concatenate(met))
        sums[list(passing.marks)] = 1.0
        shares = np.minimum(sums[numbers], 1.0)
        sums[numbers] = 0.0
        kept = shares >= floor
        found[run] = (numbers, shares) if kept.all() else (numbers[kept], shares[kept])
    return found


def _mix(sums: np.ndarray, brought: Marks, drawn: Drawn, fraction: float) -> np.ndarray:
    """Add what one draw brings to the sums; return the numbers of the marks it touched."""
    numbers, shares = brought
    sums[numbers] += fraction * shares
    for mark in drawn.marks:
        place = int(np.searchsorted(numbers, mark))
        borne = shares[place] if place < len(numbers) and numbers[place] == mark else 0.0
        sums[mark] += fraction * (1.0 - borne)
    return np.concatenate([numbers, drawn.marks]) if drawn.marks else numbers


def of_one(runs: Mapping[Key, Passing], mark: int = 0) -> dict:
    """Carry a single mark through all runs, with nothing let go.

    Parameters
    ----------
    runs : mapping of hashable to Passing
        Every run on the way, in any order.
    mark : int
        The mark that is followed; others are left aside.

    Returns
    -------
    dict of hashable to float
        For each run the share of the mark in its outputs, from 0 to 1.

    Raises
    ------
    graphlib.CycleError
        If runs draw from each other in a circle.

    Examples
    --------
    >>> bags = (Drawn("in", 3.0, (0,)), Drawn("in", 1.0))
    >>> of_one({"shred": Passing(bags), "dry": Passing((Drawn("shred", 5.0),))})["dry"]
    0.75
    """
    found: dict[Key, float] = {}
    for run in in_order(runs):
        passing = runs[run]
        whole = sum(drawn.mass_mg for drawn in passing.drawn)
        if mark in passing.marks:
            found[run] = 1.0
        elif not whole:
            found[run] = 0.0
        else:
            found[run] = sum(
                drawn.mass_mg
                / whole
                * (1.0 if mark in drawn.marks else found.get(drawn.maker, 0.0))
                for drawn in passing.drawn
            )
    return found


def of_rows(rows: Iterable[Key], found: Mapping[Key, Marks]) -> tuple[np.ndarray, ...]:
    """List the marks of several runs as entries of a matrix: row, mark, share.

    Parameters
    ----------
    rows : iterable of hashable
        The run behind each row, in order; one that is not in ``found`` gives an empty row.
    found : mapping
        From ``carried``.

    Returns
    -------
    row, mark : numpy.ndarray of int
        Place of each entry, counted from 0, row by row.
    share : numpy.ndarray of float
        In (0, 1].

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> found = {"R1": (np.array([2, 5]), np.array([0.5, 1.0]))}
    >>> [column.tolist() for column in of_rows(["R1", "R9", "R1"], found)]
    [[0, 0, 2, 2], [2, 5, 2, 5], [0.5, 1.0, 0.5, 1.0]]
    """
    nothing: Marks = (np.zeros(0, dtype=np.int64), np.zeros(0))
    each: Sequence[Marks] = [found.get(run, nothing) for run in rows]
    lengths = [len(numbers) for numbers, _ in each]
    return (
        np.repeat(np.arange(len(each)), lengths),
        np.concatenate([numbers for numbers, _ in each] or [nothing[0]]),
        np.concatenate([shares for _, shares in each] or [nothing[1]]),
    )
