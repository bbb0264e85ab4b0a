"""How much of what goes into a melt has never been melted: own scrap goes round more than once.

A lot's mass that was never melted is kept as marks on a line, mg: each mark is how much of it lies
up to one place, the places being whose material it is, one giver after the other. The last mark
is the mass of the lot itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from graphlib import TopologicalSorter

from recycling.calc.keys import Key
from recycling.calc.lots.recomposition import Masses

Marks = tuple[int, ...]


def never_melted(
    runs: Mapping[Key, tuple[Masses, Masses]],
    melted: Mapping[Key, Marks],
    fresh: Callable[[Key], Marks],
) -> dict[Key, Marks]:
    """Carry along the draws how much of each lot was never melted.

    Parameters
    ----------
    runs : mapping of run to (draws, outputs)
        Runs that melt nothing: (lot, mg) for what each drew and for what it gave.
    melted : mapping of lot to tuple of int
        Marks of lots that came out of a melt, in mg: zero but for the last, their mass.
    fresh : callable
        Gives the marks of a lot that no melted material went into, in mg.

    Returns
    -------
    dict of lot to tuple of int
        Marks in mg of each lot that holds something melted, as many as are given; those of all
        other lots are `fresh`.

    Raises
    ------
    graphlib.CycleError
        If a run draws, over whatever others, on what it gave.

    Notes
    -----
    A draw of d from a lot of mass m takes ⌊d·mark/m⌋ up to each mark, and an output is well mixed
    from all that the run drew. Each mark follows from marks of the same place alone, so what lies
    between two of them can be computed for one giver, and all givers add up exactly.

    Examples
    --------
    Reground scrap and new flake, half and half:

    >>> runs = {"blend": ((("scrap", 50), ("flake", 50)), (("mixture", 100),))}
    >>> never_melted(runs, {"scrap": (0, 80)}, lambda lot: (60, 60))
    {'scrap': (0, 80), 'mixture': (50, 100)}
    """
    marks = dict(melted)
    makers = {lot: run for run, (_, outputs) in runs.items() for lot, _ in outputs}
    before = {
        run: {makers[lot] for lot, _ in draws if lot in makers} for run, (draws, _) in runs.items()
    }
    for run in TopologicalSorter(before).static_order():
        draws, outputs = runs[run]
        if any(lot in marks for lot, _ in draws):
            taken = [_of(marks.get(lot) or fresh(lot), mass_mg) for lot, mass_mg in draws]
            mixed = tuple(map(sum, zip(*taken, strict=True)))
            marks.update((lot, _of(mixed, mass_mg)) for lot, mass_mg in outputs)
    return marks


def _of(marks: Sequence[int], mass_mg: int) -> Marks:
    """Lay a mass along a line; nothing is fresh of what has no mass."""
    whole = marks[-1]
    return tuple(mass_mg * mark // whole if whole else 0 for mark in marks[:-1]) + (mass_mg,)
