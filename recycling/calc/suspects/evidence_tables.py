"""The plain tables: who was exposed, who was spoilt, and how surprising that is.

All functions take and give whole columns, so that ten thousand candidates cost one call.

References
----------
.. [1] Fisher, R. A. (1922). On the interpretation of chi-squared from contingency tables, and the
   calculation of P. Journal of the Royal Statistical Society 85, 87-94.
.. [2] Benjamini, Y. and Hochberg, Y. (1995). Controlling the false discovery rate: a practical
   and powerful approach to multiple testing. Journal of the Royal Statistical Society B 57,
   289-300.
.. [3] US Centers for Disease Control and Prevention, EIS case study 401-303 (Oswego).
"""

import numpy as np

CLOSE_TO_EQUAL = 1e-7
"""Relative room within which two tables count as equally likely, against rounding."""

TABLE_BLOCK = 2_000_000
"""Number of table chances held in memory at a time."""


def odds_ratio(tables):
    """Give the sample odds ratio of each table, ad / bc.

    Parameters
    ----------
    tables : array_like of int, shape (candidates, 4)
        Exposed bad a, exposed good b, unexposed bad c, unexposed good d, counts of spools.

    Returns
    -------
    numpy.ndarray of float, shape (candidates,)
        Dimensionless; infinite where bc is 0 and ad is not, NaN where both are 0.

    Raises
    ------
    ValueError
        If a count is negative or not whole, or a row has not four of them.

    Notes
    -----
    .. math:: \\mathrm{OR} = \\frac{a d}{b c}

    Examples
    --------
    Vanilla ice cream in the Oswego line list [3]_:

    >>> odds_ratio([[43, 11, 3, 18]]).round(2)
    array([23.45])
    """
    a, b, c, d = _cells(tables).astype(float).T
    with np.errstate(divide="ignore", invalid="ignore"):
        return (a * d) / (b * c)


def fisher_exact(tables):
    """Give the two-sided p-value of Fisher's exact test for each table [1]_.

    Parameters
    ----------
    tables : array_like of int, shape (candidates, 4)
        Exposed bad a, exposed good b, unexposed bad c, unexposed good d, counts of spools.

    Returns
    -------
    numpy.ndarray of float, shape (candidates,)
        The chance, with all margins fixed, of a table at most as likely as the one seen; in (0, 1].

    Raises
    ------
    ValueError
        If a count is negative or not whole, or a row has not four of them.

    Notes
    -----
    With margins fixed the count x of exposed bad spools is hypergeometric, and

    .. math:: p = \\sum_{x:\\,P(x) \\le P(a)} P(x), \\qquad
              P(x) \\propto \\frac{1}{x!\\,(a+b-x)!\\,(a+c-x)!\\,(d-a+x)!}

    Examples
    --------
    >>> float(fisher_exact([[43, 11, 3, 18]])[0].round(10))
    2.597e-07
    """
    tables = _cells(tables)
    if not len(tables):
        return np.zeros(0)
    kinds, which = _distinct(tables)
    lowest = np.maximum(0, kinds[:, 0] - kinds[:, 3])
    width = np.minimum(kinds[:, 1], kinds[:, 2]) + kinds[:, 0] - lowest + 1
    log_factorial = np.concatenate(
        ([0.0], np.cumsum(np.log(np.arange(1, tables.sum(axis=1).max() + 1))))
    )
    p_value, order, done = np.empty(len(kinds)), np.argsort(width), 0
    while done < len(order):
        widest = width[order[min(done + 2048, len(order)) - 1]]
        block = order[done : done + min(2048, max(1, TABLE_BLOCK // widest))]
        p_value[block] = _two_sided(kinds[block], lowest[block], width[block], log_factorial)
        done += len(block)
    return p_value[which]


def _two_sided(tables, lowest, width, log_factorial):
    """Sum the chances of all tables at most as likely as the given ones, row by row."""
    a, b, c, d = (column[:, None] for column in tables.T)
    step = np.arange(width.max())
    inside = step < width[:, None]
    x = lowest[:, None] + np.where(inside, step, 0)
    log_chance = -(
        log_factorial[x]
        + log_factorial[a + b - x]
        + log_factorial[a + c - x]
        + log_factorial[d - a + x]
    )
    chance = np.where(inside, np.exp(log_chance - log_chance.max(axis=1, keepdims=True)), 0.0)
    seen = np.take_along_axis(chance, a - lowest[:, None], axis=1)
    as_rare = chance <= seen * (1 + CLOSE_TO_EQUAL)
    return (chance * as_rare).sum(axis=1) / chance.sum(axis=1)


def benjamini_hochberg(p_values):
    """Adjust p-values for the number of candidates looked at [2]_.

    Parameters
    ----------
    p_values : array_like of float, shape (candidates,)
        Each in [0, 1].

    Returns
    -------
    numpy.ndarray of float, shape (candidates,)
        Adjusted values in the order given. Calling those at most q noteworthy keeps the expected
        share of false ones among them at most q.

    Raises
    ------
    ValueError
        If a p-value is outside [0, 1] or not a number.

    Notes
    -----
    With the m values sorted, :math:`q_{(i)} = \\min_{j \\ge i} \\min(1, m\\,p_{(j)} / j)`.

    Examples
    --------
    >>> benjamini_hochberg([0.01, 0.04, 0.03, 0.5]).round(4)
    array([0.04  , 0.0533, 0.0533, 0.5   ])
    """
    p = np.asarray(p_values, dtype=float)
    if p.ndim != 1 or not np.all((p >= 0) & (p <= 1)):
        raise ValueError("p-values are a row of numbers from 0 to 1")
    order = np.argsort(p)
    stepped = p[order] * len(p) / np.arange(1, len(p) + 1)
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum.accumulate(stepped[::-1])[::-1]
    return np.minimum(adjusted, 1.0)


def _cells(tables):
    """Check that each row has four whole counts, and give them as integers."""
    cells = np.asarray(tables)
    if cells.ndim != 2 or cells.shape[1] != 4:
        raise ValueError("a table has four counts: bad and good, exposed and unexposed")
    whole = cells.astype(np.int64)
    if np.any(whole != cells) or np.any(whole < 0):
        raise ValueError("the counts of a table are whole and not negative")
    return whole


def _distinct(tables):
    """Give the distinct rows and, for each row, which of them it is."""
    sizes = [int(top) + 1 for top in tables.max(axis=0)]
    if np.prod(np.array(sizes, dtype=float)) >= 2**62:
        return tables, np.arange(len(tables))
    key = np.ravel_multi_index(tuple(tables.T), sizes)
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    return tables[first], which
