"""Other ways to the same figures, to hold calculations against."""

from __future__ import annotations

import numpy as np

from recycling.calc.suspects.next_verdict import _candidate_posterior
from recycling.calc.suspects.posterior import Suspicion


def two_by_two(exposed, bad):
    """Count exposed and unexposed, bad and good spools for each candidate.

    Parameters
    ----------
    exposed : array_like of float, shape (spools, candidates)
        1 where the spool was exposed to the candidate, 0 where not, NaN where it is not known.
    bad : array_like of bool, shape (spools,)
        True for a spool judged bad.

    Returns
    -------
    numpy.ndarray of int, shape (candidates, 4)
        Columns: exposed bad, exposed good, unexposed bad, unexposed good. A spool whose exposure
        to a candidate is not known is left out of that candidate's row.

    Raises
    ------
    ValueError
        If the shapes do not fit, or an exposure is neither 0, 1 nor NaN.

    Examples
    --------
    >>> two_by_two([[1, 0], [1, float("nan")], [0, 1]], [True, True, False])
    array([[2, 0, 0, 1],
           [0, 1, 1, 0]])
    """
    exposed, bad = np.asarray(exposed, dtype=float), np.asarray(bad, dtype=bool)
    if exposed.ndim != 2 or bad.shape != exposed.shape[:1]:
        raise ValueError("exposed must have one row for each spool in bad")
    yes, no = exposed == 1, exposed == 0
    if not np.all(yes | no | np.isnan(exposed)):
        raise ValueError("an exposure in a table is 0, 1 or not known (NaN)")
    cells = (yes[bad], yes[~bad], no[bad], no[~bad])
    return np.column_stack([cell.sum(axis=0) for cell in cells])


def entropy_bits(suspicion: Suspicion) -> float:
    """Give the entropy of the belief over single candidates and "none of these".

    Parameters
    ----------
    suspicion : Suspicion
        From ``weigh_suspects``.

    Returns
    -------
    float
        In bits: 0 where one reading is sure, log2(n) where n are equally likely.

    Raises
    ------
    Nothing.

    Notes
    -----
    .. math:: H = -\\sum_k P(k) \\log_2 P(k)

    Examples
    --------
    >>> from recycling.calc.suspects.exposure import dense_shares
    >>> from recycling.calc.suspects.posterior import weigh_suspects
    >>> round(entropy_bits(weigh_suspects(dense_shares([[1.0, 1.0]]), [-1])), 3)
    1.5
    """
    belief = np.append(_candidate_posterior(suspicion), suspicion.none_posterior)
    belief = belief[belief > 0]
    return float(-(belief * np.log2(belief)).sum())
