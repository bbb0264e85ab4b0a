"""One standing for each spool from what its users said of it."""

from enum import IntEnum

import numpy as np


class Standing(IntEnum):
    """What is known of a spool: a missing or contradictory verdict is left out, never good."""

    NOT_JUDGED = -1
    GOOD = 0
    BAD = 1
    CONTRADICTORY = 2


def standings(good, bad, contradictory=Standing.CONTRADICTORY):
    """Settle each spool's standing from its counts of good and bad verdicts.

    Parameters
    ----------
    good, bad : array_like of int, shape (spools,)
        Number of people who called the spool good and bad, each person counted once.
    contradictory : Standing
        What to take a spool for that has both: CONTRADICTORY leaves it out of the evidence and
        says so, BAD counts it as bad.

    Returns
    -------
    numpy.ndarray of int, shape (spools,)
        Values of ``Standing``.

    Raises
    ------
    ValueError
        If a count is negative or not whole, or the shapes differ.

    Examples
    --------
    >>> standings(good=[0, 2, 0, 1], bad=[0, 0, 1, 1]).tolist()
    [-1, 0, 1, 2]
    """
    good, bad = np.asarray(good), np.asarray(bad)
    if good.shape != bad.shape:
        raise ValueError("each spool needs a count of good and of bad verdicts")
    for count in (good, bad):
        if np.any(count < 0) or np.any(count != np.floor(count)):
            raise ValueError("counts of verdicts are whole and not negative")
    settled = np.full(good.shape, int(Standing.NOT_JUDGED))
    settled[good > 0] = Standing.GOOD
    settled[bad > 0] = Standing.BAD
    settled[(good > 0) & (bad > 0)] = contradictory
    return settled
