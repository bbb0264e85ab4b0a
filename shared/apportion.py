"""Whole milligrams shared out so that the parts add up exactly."""

from __future__ import annotations

from collections.abc import Sequence


def apportion(total: int, weights: Sequence[int]) -> list[int]:
    """Share a whole number in proportion to weights by the largest-remainder rule [1]_.

    Parameters
    ----------
    total : int
        What is shared out, in mg; zero or more.
    weights : sequence of int, shape (n,)
        Non-negative weights in mg, at least one positive unless `total` is zero.

    Returns
    -------
    list of int, shape (n,)
        Parts in mg that add up to `total`; each differs from its exact quota by less than 1 mg.

    Raises
    ------
    ValueError
        If `total` or a weight is negative, or there is something to share and no weight.

    Notes
    -----
    Equal remainders go to the earlier place, so that the result is the same everywhere.

    References
    ----------
    .. [1] M. L. Balinski and H. P. Young, Fair Representation, 2nd ed. (2001), Hamilton's method.

    Examples
    --------
    >>> apportion(10, [1, 1, 1])
    [4, 3, 3]
    """
    whole = sum(weights)
    if total < 0 or any(weight < 0 for weight in weights):
        raise ValueError("masses that are shared out cannot be negative")
    if not whole:
        if total:
            raise ValueError("there is mass to share out but no weight to share it by")
        return [0] * len(weights)
    parts, rests = [], []
    for place, weight in enumerate(weights):
        part, rest = divmod(total * weight, whole)
        parts.append(part)
        rests.append((-rest, place))
    left = total - sum(parts)
    for _, place in sorted(rests)[:left]:
        parts[place] += 1
    return parts


def stretch(total: int, before: int, own: int, whole: int) -> int:
    """Give what of a whole number falls to one stretch of a line that it is laid along.

    Parameters
    ----------
    total : int
        What is laid along the line, in mg; a negative one is laid like its opposite.
    before, own, whole : int
        Length of what lies before the stretch, of the stretch, and of the whole line, in mg.

    Returns
    -------
    int
        ⌊total·(before + own)/whole⌋ − ⌊total·before/whole⌋ in mg. Stretches that make up the
        line add up to `total` exactly, and each can be computed without knowing the others.

    Raises
    ------
    ValueError
        If the stretch is not inside the line.

    Examples
    --------
    >>> [stretch(10, before, 1, 3) for before in (0, 1, 2)]
    [3, 3, 4]
    >>> stretch(-10, 2, 1, 3), stretch(5, 0, 0, 0)
    (-4, 0)
    """
    if before < 0 or own < 0 or before + own > whole:
        raise ValueError("a stretch lies inside its line")
    if not own:
        return 0
    size = abs(total)
    part = size * (before + own) // whole - size * before // whole
    return part if total >= 0 else -part
