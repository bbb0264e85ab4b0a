"""A table of shares turned into whole milligrams that add up along both sides.

Sources
-------
.. [1] M. L. Balinski and H. P. Young, Fair Representation, 2nd ed. (2001): largest remainders.
.. [2] L. H. Cox, J. Am. Stat. Assoc. 82 (1987) 520: controlled rounding of a table, both of whose
   margins are whole, always exists. Here it is reached row by row, what was given so far being
   taken off what was due so far.
"""

from collections.abc import Sequence

import numpy as np


def two_way(
    quotas_mg: np.ndarray, rows_mg: Sequence[int], columns_mg: Sequence[int] | np.ndarray
) -> np.ndarray:
    """Round a table so that each row and each column adds up to its whole total.

    Parameters
    ----------
    quotas_mg : numpy.ndarray of float, shape (m, n)
        What is due, mg, not negative; its margins are the totals but for rounding.
    rows_mg : sequence of int, shape (m,)
        Total of each row, mg.
    columns_mg : sequence of int, shape (n,)
        Total of each column, mg.

    Returns
    -------
    numpy.ndarray of int, shape (m, n)
        Whole milligrams, none negative. Down each column what was given so far exceeds what was
        due so far by less than 1 mg [2]_; in the last row what is left is given.

    Raises
    ------
    ValueError
        If shapes differ, a total is negative, or the totals of rows and columns are not one sum.

    Notes
    -----
    In each row the largest remainders are rounded up [1]_, equal ones in order of place.

    Examples
    --------
    >>> table = np.array([[1.5, 0.5], [0.5, 0.5]])
    >>> two_way(table, [2, 1], [2, 1]).tolist()
    [[2, 0], [0, 1]]
    """
    rows = np.asarray(rows_mg, dtype=np.int64)
    left = np.asarray(columns_mg, dtype=np.int64).copy()
    if quotas_mg.shape != (len(rows), len(left)):
        raise ValueError(f"a table of {quotas_mg.shape} has {len(rows)} rows, {len(left)} columns")
    if (rows < 0).any() or (left < 0).any():
        raise ValueError("totals cannot be negative")
    if rows.sum() != left.sum():
        raise ValueError(f"rows add up to {rows.sum()} mg, columns to {left.sum()} mg")
    given = np.zeros(quotas_mg.shape, dtype=np.int64)
    owed = np.zeros(len(left))
    for place, whole_mg in enumerate(rows[:-1].tolist()):
        owed += quotas_mg[place]
        given[place] = largest_remainders(owed, whole_mg, left)
        owed -= given[place]
        left -= given[place]
    if len(rows):
        given[-1] = left
    return given


def largest_remainders(
    quotas_mg: np.ndarray, whole_mg: int, most_mg: np.ndarray | None = None
) -> np.ndarray:
    """Round quotas to whole milligrams that add up to a total.

    Parameters
    ----------
    quotas_mg : numpy.ndarray of float, shape (n,)
        What is due, mg; below zero counts as zero.
    whole_mg : int
        Total, mg, not negative.
    most_mg : numpy.ndarray of int, shape (n,), optional
        Most that each may be given, mg.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Whole milligrams; equal remainders in order of place [1]_.

    Raises
    ------
    ValueError
        If there is more to give than may be taken.

    Examples
    --------
    >>> largest_remainders(np.array([0.5, 1.5, 1.0]), 3).tolist()
    [1, 1, 1]
    """
    most = np.full(len(quotas_mg), whole_mg) if most_mg is None else most_mg
    if most.sum() < whole_mg:
        raise ValueError(f"there are {whole_mg} mg to give but only {most.sum()} mg may be taken")
    given = np.clip(np.floor(quotas_mg), 0, most).astype(np.int64)
    while (lacking := whole_mg - int(given.sum())) != 0:
        step = 1 if lacking > 0 else -1
        may = np.flatnonzero(given < most if step > 0 else given > 0)
        order = may[np.argsort(-step * (quotas_mg - given)[may], kind="stable")]
        given[order[: abs(lacking)]] += step
    return given
