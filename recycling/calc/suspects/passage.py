"""What part of each lot came from another lot, or went through a run, a machine or a setting.

A *mark* is anything that a part of the material can carry from then on: the lot it was, the origin
it came from, the run and machine it went through, a setting it was worked at, how long it lay open.
The share of a mark in a lot is the mass fraction that met it at least once, so it never exceeds 1
even where material goes through the same machine twice.

With f_od the fraction of output o that comes from the portion d its run took in
(``recycling.calc.lots.parts``; of a well-mixed run the fraction of all that was
taken in), s the share of the mark in the lot that the portion is of, and p the part of the output
that met the mark in this run, the share in the output is

.. math:: S_o = p_o + (1 - p_o) \\sum_d f_{od}\\,
          (1 \\text{ if portion } d \\text{ bears it, else } s_d)

A mark that the run bears at all times (the run, its machine) has p = 1. For p below 1 what met the
mark before and what meets it now are taken as independent: the two passes know nothing of each
other.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from graphlib import TopologicalSorter

import numpy as np

from recycling.calc.keys import Key

FLOOR = 1e-7
"""Shares below this part of a lot are let go; it is far below what an exposure can be told by."""

Marks = tuple[np.ndarray, np.ndarray]
"""Numbers of marks in rising order, and the share of each."""

NOTHING: Marks = (np.zeros(0, dtype=np.int64), np.zeros(0))


@dataclass(frozen=True, slots=True)
class Drawn:
    """A portion that a run took in.

    Attributes
    ----------
    lot : hashable
        The lot that it is of; one that no run among them gave brings no marks.
    mass_mg : float
        Its mass, mg, not negative.
    marks : tuple of int
        Marks that all of it bears: the lot itself, its origin, how long it lay open.
    """

    lot: Key
    mass_mg: float
    marks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Passing:
    """One run: what it took in and gave, and the marks that it put on.

    Attributes
    ----------
    drawn : tuple of Drawn
        The portions taken in.
    marks : tuple of int
        Marks that everything bears which went through it.
    gave : tuple of hashable
        The lots it gave, as far as anybody asks for them.
    parts : mapping of lot to sequence of float
        Fraction of that output which comes from each portion, adding up to 1; one that is not
        named is mixed of all portions by their masses.
    borne : mapping of lot to mapping of int to float
        Part of that output, 0 to 1, which met a mark here; NaN where it is not known.
    returned : frozenset of lot
        Lots that came back as they were taken in: they bear no mark of the run.
    """

    drawn: tuple[Drawn, ...]
    marks: tuple[int, ...] = ()
    gave: tuple[Key, ...] = ()
    parts: Mapping[Key, Sequence[float] | np.ndarray] = field(default_factory=dict)
    borne: Mapping[Key, Mapping[int, float]] = field(default_factory=dict)
    returned: frozenset[Key] = frozenset()

    @property
    def fractions(self) -> list[float]:
        """Fraction of all that was taken in which each portion is."""
        whole = sum(drawn.mass_mg for drawn in self.drawn)
        return [drawn.mass_mg / whole if whole else 0.0 for drawn in self.drawn]


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
    >>> in_order({"b": Passing((Drawn("x", 1.0),)), "a": Passing((), gave=("x",))})
    ['a', 'b']
    """
    makers = {lot: run for run, passing in runs.items() for lot in passing.gave}
    sorter: TopologicalSorter = TopologicalSorter()
    for run, passing in runs.items():
        sorter.add(run, *{makers[drawn.lot] for drawn in passing.drawn if drawn.lot in makers})
    return list(sorter.static_order())


def carried(runs: Mapping[Key, Passing], marks: int, floor: float = FLOOR) -> dict[Key, Marks]:
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
        For each lot given its marks in rising order, and their shares in (0, 1]; NaN where not
        known.

    Raises
    ------
    graphlib.CycleError
        If runs draw from each other in a circle.

    Examples
    --------
    Two bags, marks 0 and 1, are shredded together 3 to 1 on a machine, mark 2:

    >>> bags = (Drawn("first", 3.0, (0,)), Drawn("second", 1.0, (1,)))
    >>> found = carried({"shred": Passing(bags, (2,), ("flake",))}, marks=3)
    >>> found["flake"][0].tolist(), found["flake"][1].tolist()
    ([0, 1, 2], [0.75, 0.25, 1.0])
    """
    sums = np.zeros(marks)
    found: dict[Key, Marks] = {}
    for run in in_order(runs):
        passing, mixed = runs[run], None
        for lot in passing.gave:
            parts, borne = passing.parts.get(lot), passing.borne.get(lot, {})
            if parts is not None or borne:
                fractions = passing.fractions if parts is None else parts
                worked = replace(passing, marks=()) if lot in passing.returned else passing
                own = {} if lot in passing.returned else borne
                found[lot] = _given(sums, found, worked, fractions, own, floor)
                continue
            if mixed is None:
                mixed = _given(sums, found, passing, passing.fractions, {}, floor)
            found[lot] = mixed
    return found


def _given(
    sums: np.ndarray,
    found: Mapping[Key, Marks],
    passing: Passing,
    fractions: Sequence[float] | np.ndarray,
    borne: Mapping[int, float],
    floor: float,
) -> Marks:
    """Give the marks of one output and their shares; the sums are zero before and after."""
    met = [
        _mix(sums, found.get(drawn.lot, NOTHING), drawn, fraction)
        for drawn, fraction in zip(passing.drawn, fractions, strict=True)
        if fraction
    ]
    own = np.fromiter(borne, dtype=np.int64, count=len(borne))
    part = np.fromiter(borne.values(), dtype=float, count=len(borne))
    sums[own] = part + (1 - part) * sums[own]
    sums[list(passing.marks)] = 1.0
    met += [own, np.array(passing.marks, dtype=np.int64)]
    numbers = np.unique(np.concatenate(met))
    shares = np.minimum(sums[numbers], 1.0)
    sums[numbers] = 0.0
    gone = shares < floor
    return (numbers[~gone], shares[~gone]) if gone.any() else (numbers, shares)


def _mix(sums: np.ndarray, brought: Marks, drawn: Drawn, fraction: float) -> np.ndarray:
    """Add what one portion brings to the sums; return the numbers of the marks it touched."""
    numbers, shares = brought
    sums[numbers] += fraction * shares
    for mark in drawn.marks:
        place = int(np.searchsorted(numbers, mark))
        borne = shares[place] if place < len(numbers) and numbers[place] == mark else 0.0
        sums[mark] += fraction * (1.0 - borne)
    return np.concatenate([numbers, drawn.marks]) if drawn.marks else numbers


def of_one(
    runs: Mapping[Key, Passing], own: Mapping[Key, float]
) -> tuple[dict[Key, float], dict[Key, float]]:
    """Carry a single mark from the lots that bear it through all runs, with nothing let go.

    Parameters
    ----------
    runs : mapping of hashable to Passing
        Every run on the way, in any order; their own marks are left aside.
    own : mapping of hashable to float
        Part of a lot, 0 to 1, that met the mark in its own making or is it: 1 for the lot itself,
        less for a setting that was in force for a part of its making.

    Returns
    -------
    lots, runs : dict of hashable to float
        The share of the mark, 0 to 1, in each lot given and each lot that bears it, and in all
        that each run took in.

    Raises
    ------
    graphlib.CycleError
        If runs draw from each other in a circle.

    Examples
    --------
    >>> bags = (Drawn("first", 3.0), Drawn("second", 1.0))
    >>> runs = {"shred": Passing(bags, gave=("f",)), "dry": Passing((Drawn("f", 5.0),), (), ("d",))}
    >>> lots, taken = of_one(runs, {"first": 1.0})
    >>> lots["d"], taken["dry"]
    (0.75, 0.75)
    """
    found: dict[Key, float] = dict(own)
    taken: dict[Key, float] = {}
    for run in in_order(runs):
        passing = runs[run]
        held = [found.get(drawn.lot, 0.0) for drawn in passing.drawn]
        taken[run] = float(np.dot(passing.fractions, held))
        for lot in passing.gave:
            parts = passing.parts.get(lot)
            brought = taken[run] if parts is None else float(np.dot(parts, held))
            part = own.get(lot, 0.0)
            found[lot] = part + (1 - part) * brought
    return found, taken


def of_rows(rows: Iterable[Key], found: Mapping[Key, Marks]) -> tuple[np.ndarray, ...]:
    """List the marks of several lots as entries of a matrix: row, mark, share.

    Parameters
    ----------
    rows : iterable of hashable
        The lot behind each row, in order; one that is not in ``found`` gives an empty row.
    found : mapping
        From ``carried``.

    Returns
    -------
    row, mark : numpy.ndarray of int
        Place of each entry, counted from 0, row by row.
    share : numpy.ndarray of float
        In (0, 1]; NaN where not known.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> found = {"S1": (np.array([2, 5]), np.array([0.5, 1.0]))}
    >>> [column.tolist() for column in of_rows(["S1", "S9", "S1"], found)]
    [[0, 0, 2, 2], [2, 5, 2, 5], [0.5, 1.0, 0.5, 1.0]]
    """
    each: Sequence[Marks] = [found.get(lot, NOTHING) for lot in rows]
    lengths = [len(numbers) for numbers, _ in each]
    return (
        np.repeat(np.arange(len(each)), lengths),
        np.concatenate([numbers for numbers, _ in each] or [NOTHING[0]]),
        np.concatenate([shares for _, shares in each] or [NOTHING[1]]),
    )
