"""What part of each output of a run comes from each portion it took in: the one share of all marks.

Compositions of origins go the same way (``recycling.calc.lots.recomposition``); this is for
anything that a portion bears.
"""

import numpy as np

from recycling.calc.keys import Key
from recycling.calc.lots.feed_order import passed_on
from recycling.calc.lots.prefix_mixing import parts_so_far
from recycling.calc.lots.recomposition import (
    FeedLog,
    Portion,
    RunMasses,
    given_in_order,
    portions,
)


def parts_given(run: RunMasses, log: FeedLog) -> dict[Key, np.ndarray]:
    """Say what part of each output of a run comes from each portion it took in.

    Parameters
    ----------
    run : RunMasses
        What it drew and gave, mg.
    log : FeedLog
        What is known of the order, and whether it came out in it; else each output is mixed of
        what was there by then, and of all where that cannot be so.

    Returns
    -------
    dict of lot to numpy.ndarray of float, shape (portions,)
        Mass fractions over ``portions(run.draws, log)``, adding up to 1; the heel that was left is
        among the outputs.

    Notes
    -----
    The same washout as the stored compositions have (``in_feed_order``), for anything that a
    portion bears; and as there (``taken_back``), what came back is what was fed last.

    Examples
    --------
    >>> from dataclasses import replace
    >>> run = RunMasses((("a", 6), ("b", 4)), (("y", 4, None), ("x", 6, None)))
    >>> log = FeedLog(frozenset(), (("a", 6), ("b", 4)), ("x", "y"))
    >>> parts_given(run, log)["x"].tolist()
    [1.0, 0.0]
    >>> back, mixed = replace(run, returned=frozenset({"y"})), replace(log, in_order=False)
    >>> {lot: parts.tolist() for lot, parts in parts_given(back, mixed).items()}
    {'y': [0.0, 1.0], 'x': [1.0, 0.0]}
    """
    taken = portions(run.draws, log)
    left = np.array([one.mass_mg for one in taken], dtype=float)
    whole = left.copy()
    made: dict[Key, np.ndarray] = {}
    for lot, mass_mg, _ in run.outputs:
        if lot in run.returned:
            back = _from_last(taken, left, mass_mg, run.besides | log.heels)
            made[lot] = _fractions(back if back.any() else whole)
            left -= back
    masses = {lot: mg for lot, mg, _ in run.outputs if lot not in run.returned}
    if not log.in_order:
        cut = dict(zip(log.given, log.cut_at, strict=False))
        mixed = parts_so_far(
            left.tolist(),
            [one.at for one in taken],
            list(masses.values()),
            [cut.get(lot) for lot in masses],
        )
        if mixed is None:
            return made | dict.fromkeys(masses, _fractions(left))
        return made | dict(zip(masses, mixed, strict=True))
    order = [lot for lot in given_in_order(run, log) if lot in masses]
    held = sum(one.lot in log.heels for one in taken)
    outputs = [masses[lot] for lot in order]
    rows = passed_on(left[:held].tolist(), left[held:].tolist(), outputs, masses.get(log.left, 0))
    ends = [*order, log.left] if log.left in masses else order
    return made | dict(zip(ends, rows, strict=False))


def order_known(run: RunMasses, log: FeedLog) -> bool:
    """Say whether the order in which a run was fed and gave follows from the times of both.

    Parameters
    ----------
    run : RunMasses
        What it drew and gave, mg.
    log : FeedLog
        When it was fed and gave.

    Returns
    -------
    bool
        Whether at most one lot lay in the hopper from the start, no two lots were fed at one
        moment, and no two outputs, the heel that was left aside, were cut at one moment.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from datetime import datetime
    >>> at = [datetime(2026, 1, 1, hour) for hour in (8, 9, 10)]
    >>> run = RunMasses((("a", 6), ("b", 4)), (("x", 4, None), ("y", 6, None)))
    >>> log = FeedLog(frozenset(), (("a", 6), ("b", 4)), ("x", "y"), None, (at[0], at[1]), at[1:])
    >>> order_known(run, log), order_known(run, replace(log, fed_at=(at[0], at[0])))
    (True, False)
    """
    fed = {(one.at, one.lot) for one in portions(run.draws, log) if one.lot not in log.heels}
    cut = dict(zip(log.given, log.cut_at, strict=False))
    made = [cut.get(lot) for lot, _, _ in run.outputs if lot not in run.returned | {log.left}]
    return len({at for at, _ in fed}) == len(fed) and None not in made and len({*made}) == len(made)


def _from_last(
    taken: list[Portion], left: np.ndarray, mass_mg: int, besides: frozenset[Key]
) -> np.ndarray:
    """Take a mass from the last portion back to the first, purge compound and heels left out."""
    back, rest = np.zeros(len(taken)), float(mass_mg)
    for place in reversed(range(len(taken))):
        if taken[place].lot not in besides:
            back[place] = min(rest, left[place])
            rest -= back[place]
    return back


def _fractions(masses: np.ndarray) -> np.ndarray:
    return masses / masses.sum() if masses.any() else masses
