"""Between what and what a share lies where nobody knows in which order a run was fed."""

from __future__ import annotations

from collections.abc import Sequence


def share_range(fed: Sequence[tuple[float, float]], output_mg: float) -> tuple[float, float]:
    """Give the least and most share of a mark in an output, over all orders of feeding.

    Parameters
    ----------
    fed : sequence of (float, float)
        What was fed, the heel left out: mass, mg, and share of the mark in it, 0 to 1.
    output_mg : float
        Mass of the output, mg.

    Returns
    -------
    float, float
        From 0 to 1. Both are 0 where nothing was fed.

    Notes
    -----
    The output is filled from what has least of the mark, or most, first. For a lot of mass m that
    bears the mark whole, in a run of mass M and an output of mass s, that is from
    max(0, 1 - (M - m)/s) to min(1, m/s).

    Examples
    --------
    A lot of 400 g in a run of a kilogram, in a spool of 750 g: 1 - 600/750 to 400/750:

    >>> [round(share, 6) for share in share_range([(400.0, 1.0), (600.0, 0.0)], 750.0)]
    [0.2, 0.533333]
    """
    listed = sorted(fed, key=lambda one: one[1])
    return _filled(listed, output_mg), _filled(listed[::-1], output_mg)


def _filled(fed: Sequence[tuple[float, float]], output_mg: float) -> float:
    """Fill an output from the first on, and give the share of the mark in it."""
    inside = borne = 0.0
    for mass_mg, share in fed:
        part = min(mass_mg, output_mg - inside)
        inside, borne = inside + part, borne + part * share
    return min(borne / inside, 1.0) if inside > 0 else 0.0
