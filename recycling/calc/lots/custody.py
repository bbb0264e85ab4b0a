"""Which chain-of-custody model a lot can claim."""

from __future__ import annotations

from collections.abc import Sequence

IDENTITY_PRESERVED = "identity preserved"
SEGREGATED = "segregated"
CONTROLLED_BLENDING = "controlled blending"
RECYCLED_KINDS = frozenset({"collection"})


def claim(kinds: Sequence[str], traces_mg: int = 0) -> str:
    """Name the model of ISO 22095 that a lot's composition supports [1]_.

    Parameters
    ----------
    kinds : sequence of str
        Kind of each origin in the lot: "collection", "purchase" or "opening".
    traces_mg : int
        Mass in mg whose origin lies below the floor.

    Returns
    -------
    str
        "identity preserved" for a single origin, "segregated" for several collections and
        nothing else, "controlled blending" where collected and other material are mixed in a
        known ratio.

    Raises
    ------
    ValueError
        If traces are negative.

    Notes
    -----
    Mass balance is a claim for a period, not for a lot; the statement makes it.

    References
    ----------
    .. [1] ISO 22095:2020, Chain of custody: general terminology and models, clause 5.

    Examples
    --------
    >>> claim(["collection"]), claim(["collection", "collection"])
    ('identity preserved', 'segregated')
    >>> claim(["collection", "purchase"])
    'controlled blending'
    """
    if traces_mg < 0:
        raise ValueError("traces cannot be negative")
    if len(kinds) == 1 and not traces_mg:
        return IDENTITY_PRESERVED
    if kinds and set(kinds) <= RECYCLED_KINDS and not traces_mg:
        return SEGREGATED
    return CONTROLLED_BLENDING
