"""Entries of the inverse of a sparse matrix where the matrix itself has any, without the rest."""

from collections.abc import Callable
from typing import Any

import numpy as np

Entries = Callable[[np.ndarray, np.ndarray], np.ndarray]


def selected_inverse(factors: Any) -> tuple[np.ndarray, Entries]:
    """Diagonal and near entries of the inverse of a symmetric positive definite matrix.

    With A = L D L', the inverse Z obeys Z = D^-1 L^-1 + (I - L') Z, so that column j needs only
    entries of Z among the rows where column j of L has any, and those are known once all later
    columns are. Time and memory are those of the factorisation, not of the full inverse.

    Parameters
    ----------
    factors : a scipy.sparse.linalg.SuperLU of the matrix, in symmetric mode, without row swaps.

    Returns
    -------
    tuple
        Diagonal of the inverse, shape (n,), in the unit of the inverse; and a function of two
        index arrays that gives the entries at pairs where the matrix has an entry off the diagonal.

    Raises
    ------
    ValueError
        If rows were swapped: the matrix was not positive definite.

    Examples
    --------
    >>> from scipy.sparse import csc_array
    >>> from scipy.sparse.linalg import splu
    >>> matrix = csc_array([[2.0, -1.0], [-1.0, 2.0]])
    >>> diagonal, at = selected_inverse(splu(matrix, options={"SymmetricMode": True}))
    >>> diagonal.round(6).tolist(), float(at(np.array([0]), np.array([1]))[0].round(6))
    ([0.666667, 0.666667], 0.333333)

    References
    ----------
    .. [1] K. Takahashi, J. Fagan and M.-S. Chen (1973), 8th PICA Conference, 63.
    .. [2] A. M. Erisman and W. F. Tinney (1975), Commun. ACM 18, 177.
    """
    place = factors.perm_c
    if not np.array_equal(place, factors.perm_r):
        raise ValueError("the matrix is not positive definite")
    rows, values = _columns(factors.L)
    pivots = factors.U.diagonal()
    diagonal, below = _inverse_columns(rows, values, pivots)
    starts = np.concatenate(([0], np.cumsum([len(column) for column in rows])))
    size = len(pivots)
    keys = np.concatenate([np.repeat(np.arange(size), np.diff(starts)) * size, np.empty(0, int)])
    keys = (keys + np.concatenate([*rows, np.empty(0, int)])).astype(np.int64)
    entries = np.concatenate([*below, np.empty(0)])

    def at(first: np.ndarray, second: np.ndarray) -> np.ndarray:
        a, b = place[first], place[second]
        key = np.minimum(a, b).astype(np.int64) * size + np.maximum(a, b)
        return entries[np.searchsorted(keys, key)]

    return diagonal[place], at


def _columns(lower) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Rows and values below the diagonal, with every row that filling in can reach."""
    lower = lower.tocsc()
    lower.sort_indices()
    starts, indices, data = lower.indptr.tolist(), lower.indices, lower.data
    rows, values = [], []
    reached: list[list[np.ndarray]] = [[] for _ in range(lower.shape[0])]
    for j in range(lower.shape[0]):
        own = indices[starts[j] + 1 : starts[j + 1]]
        value = data[starts[j] + 1 : starts[j + 1]]
        every = own
        for more in reached[j]:
            if len(more) > len(every) or not np.array_equal(more, every[-len(more) :]):
                every = np.union1d(every, more)
        if len(every) != len(own):
            filled = np.zeros(len(every))
            filled[np.searchsorted(every, own)] = value
            value = filled
        reached[j] = []
        if len(every) > 1:
            reached[every[0]].append(every[1:])
        rows.append(every)
        values.append(value)
    return rows, values


def _inverse_columns(rows, values, pivots) -> tuple[np.ndarray, list[np.ndarray]]:
    diagonal = 1 / pivots
    below: list[np.ndarray] = [np.empty(0)] * len(rows)
    waiting = np.bincount([r[0] for r in rows if len(r)], minlength=len(rows)).tolist()
    fronts: dict[int, np.ndarray] = {}
    for j in range(len(rows) - 1, -1, -1):
        near = rows[j]
        front = np.empty((len(near) + 1,) * 2)
        if len(near):
            parent = int(near[0])
            spot = np.concatenate(([0], np.searchsorted(rows[parent], near[1:]) + 1))
            known = fronts[parent][spot[:, None], spot]
            column = -(known @ values[j])
            diagonal[j] -= values[j] @ column
            below[j] = front[0, 1:] = front[1:, 0] = column
            front[1:, 1:] = known
            waiting[parent] -= 1
            if not waiting[parent]:
                del fronts[parent]
        front[0, 0] = diagonal[j]
        if waiting[j]:
            fronts[j] = front
    return diagonal, below
