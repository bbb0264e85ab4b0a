"""How much each spool was exposed to each candidate: shares, the exposure curve, what is alike.

A share is the part of a spool's mass that came from a candidate (a collection, a lot) or went
through it (a dryer batch, a machine, an operator's hands), from 0 to 1. Most are zero, so only the
others are kept.
"""

from dataclasses import dataclass

import numpy as np

STEPS_ALIKE = 10_000
"""Exposures that agree when rounded to one part in this many count as equal."""


@dataclass(frozen=True, eq=False)
class Shares:
    """The non-zero shares of spools in candidates, one entry for each pair.

    Attributes
    ----------
    spool, candidate : numpy.ndarray of int, shape (entries,)
        Row and column of each entry, counted from 0.
    share : numpy.ndarray of float, shape (entries,)
        Mass fraction in [0, 1]; NaN where it is not known.
    spools, candidates : int
        How many there are of each, also those without an entry.
    """

    spool: np.ndarray
    candidate: np.ndarray
    share: np.ndarray
    spools: int
    candidates: int

    def __post_init__(self):
        """Refuse entries outside the matrix and shares outside 0 to 1."""
        if not len(self.spool) == len(self.candidate) == len(self.share):
            raise ValueError("spool, candidate and share need the same number of entries")
        if not len(self.share):
            return
        if min(self.spool.min(), self.candidate.min()) < 0:
            raise ValueError("spools and candidates are counted from 0")
        if self.spool.max() >= self.spools or self.candidate.max() >= self.candidates:
            raise ValueError("an entry names a spool or candidate that is not there")
        if np.any(self.share < 0) or np.any(self.share > 1):
            raise ValueError("a share lies between 0 and 1")

    def of_spools(self, chosen):
        """Give the shares of the chosen spools alone, renumbered in the order of their rows.

        Parameters
        ----------
        chosen : array_like of bool, shape (spools,)
            True for the spools to keep.

        Returns
        -------
        Shares
            With as many candidates as before.

        Raises
        ------
        ValueError
            If there is not one mark for each spool.

        Examples
        --------
        >>> dense_shares([[0.5, 0.5], [0.0, 1.0]]).of_spools([False, True]).share
        array([1.])
        """
        chosen = np.asarray(chosen, dtype=bool)
        if chosen.shape != (self.spools,):
            raise ValueError("chosen needs one mark for each spool")
        if chosen.all():
            return self
        number = np.cumsum(chosen) - 1
        kept = chosen[self.spool]
        return Shares(
            number[self.spool[kept]],
            self.candidate[kept],
            self.share[kept],
            int(chosen.sum()),
            self.candidates,
        )


def dense_shares(matrix):
    """Read shares from a full matrix.

    Parameters
    ----------
    matrix : array_like of float, shape (spools, candidates)
        Mass fractions in [0, 1]; NaN where not known.

    Returns
    -------
    Shares
        Its non-zero entries, row by row.

    Raises
    ------
    ValueError
        If the matrix has not two dimensions, or a share is outside [0, 1].

    Examples
    --------
    >>> dense_shares([[0.0, 0.4], [1.0, 0.0]]).candidate
    array([1, 0])
    """
    matrix = np.ascontiguousarray(matrix, dtype=float)
    if matrix.ndim != 2:
        raise ValueError("shares are a matrix: one row a spool, one column a candidate")
    place = np.flatnonzero(matrix.ravel() != 0)
    spools, candidates = matrix.shape
    spool, candidate = np.divmod(place, max(candidates, 1))
    return Shares(spool, candidate, matrix.ravel()[place], spools, candidates)


def listed_shares(spool, candidate, share, spools, candidates):
    """Read shares from a list of entries, as a trace or a sparse matrix in coordinates gives them.

    Parameters
    ----------
    spool, candidate : array_like of int, shape (entries,)
        Row and column of each entry, counted from 0; each pair at most once.
    share : array_like of float, shape (entries,)
        Mass fraction in [0, 1]; NaN where not known.
    spools, candidates : int
        How many there are of each.

    Returns
    -------
    Shares

    Raises
    ------
    ValueError
        If an entry is outside the matrix, a pair comes twice or a share is outside [0, 1].

    Examples
    --------
    >>> listed_shares([0, 1], [1, 0], [0.4, 1.0], spools=2, candidates=2).share
    array([0.4, 1. ])
    """
    spool, candidate = np.asarray(spool, dtype=np.int64), np.asarray(candidate, dtype=np.int64)
    shares = Shares(spool, candidate, np.asarray(share, dtype=float), spools, candidates)
    pair = spool * candidates + candidate
    in_order = np.all(pair[1:] > pair[:-1])
    if not in_order and len(np.unique(pair)) < len(pair):
        raise ValueError("a spool's share in a candidate is listed twice")
    return shares


def exposure_of_share(share, full_share=0.20, power=1.0):
    """Turn shares into exposures by the exposure curve.

    Parameters
    ----------
    share : array_like of float
        Mass fraction in [0, 1]; NaN stays NaN.
    full_share : float
        The share from which the exposure is full, in (0, 1].
    power : float
        Shape below that: 1 in proportion, above 1 slow at first, below 1 quick at first.

    Returns
    -------
    numpy.ndarray of float
        Dimensionless exposure in [0, 1], the exponent of the noisy-OR.

    Raises
    ------
    ValueError
        If ``full_share`` or ``power`` is out of range.

    Notes
    -----
    .. math:: e = \\min(1, s / s_\\mathrm{full})^{p}

    The curve is an assumption of this book, shown wherever it is used, not a law.

    Examples
    --------
    >>> exposure_of_share([0.0, 0.05, 0.2, 0.9])
    array([0.  , 0.25, 1.  , 1.  ])
    """
    if not 0 < full_share <= 1:
        raise ValueError("full_share lies above 0 and at most at 1")
    if not 0 < power < np.inf:
        raise ValueError("the power of the exposure curve is above 0")
    relative = np.minimum(np.asarray(share, dtype=float) / full_share, 1.0)
    return relative if power == 1 else relative**power


def alike(row, column, exposure, columns):
    """Find columns that have the same exposure in every row, and so cannot be told apart.

    Parameters
    ----------
    row, column : numpy.ndarray of int, shape (entries,)
        Place of each exposure, counted from 0.
    exposure : numpy.ndarray of float, shape (entries,)
        Dimensionless, in [0, 1]; NaN, not known, is equal to NaN alone.
    columns : int
        How many columns there are, also those without an entry.

    Returns
    -------
    line : numpy.ndarray of int, shape (columns,)
        Number of the line that each column belongs to.
    first : numpy.ndarray of int, shape (lines,)
        The first column of each line.

    Raises
    ------
    IndexError
        If an entry names a column that is not there.

    Notes
    -----
    Each row gets a fixed random 64-bit number; a column's mark is the sum, modulo :math:`2^{64}`,
    of those numbers times the exposure in whole steps. Whole-number sums do not depend on their
    order. Two different columns share a mark with a chance below :math:`2^{-50}`.

    Examples
    --------
    >>> row, column = np.array([0, 0, 1]), np.array([0, 2, 1])
    >>> alike(row, column, np.array([1.0, 1.0, 0.5]), columns=3)[0]
    array([0, 1, 0])
    """
    steps = np.where(np.isnan(exposure), STEPS_ALIKE + 1, np.rint(exposure * STEPS_ALIKE))
    mark = np.zeros(columns, dtype=np.uint64)
    if len(row):
        number = np.random.default_rng(1922).integers(
            1, 2**64 - 1, size=int(row.max()) + 1, dtype=np.uint64
        )
        np.add.at(mark, column, number[row] * steps.astype(np.uint64))
    _, first, line = np.unique(mark, return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return place[line], first[order]
