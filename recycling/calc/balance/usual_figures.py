"""Figures as they are typed: which are likely slips, and what else they may be.

A typed mass is held against masses, or shares of what went in, that such runs here had before. It
is asked about when known slips together explain it better than the past does; a kernel density
stands for the past, so that two usual sizes (full spools and a short last one) are both usual.

Sources
-------
.. [1] Silverman, B. W. (1986), Density Estimation for Statistics and Data Analysis, ch. 2 and 3.
.. [2] Rousseeuw, P. J., and Croux, C. (1993), JASA 88(424), 1273: 1.4826 MAD estimates σ.
.. [3] NIST Handbook 44, appendix C: 1 lb is 453.592 37 g, exactly.

How often each slip is made, and from which odds on one asks, are choices of this project: default,
not checked.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from recycling.calc.guards import finite, positive

LEAST_KNOWN = 4
"""Figures of a kind from which on a new one is held against them."""

MOST_KNOWN = 60
"""Figures of a kind that are looked at, the newest."""

ASKED_FROM = 0.12
"""Odds, slips to what was meant, from which on one asks."""

LEAST_SWAP = math.log(1.9)
"""A swap of two digits that changes a figure by less, in ln, is not asked about."""

SLIPS = 0.02
"""Share of typed figures that are slips."""

BANDWIDTH = 0.6
"""Width of a kernel, in 1.4826 MAD of the past."""

LEAST_WIDTH = 0.05
"""Least width of a kernel, in logs: what one scale and one hand scatter."""

BROAD = 1 / 12
"""Density of what was never seen, for each unit of ln: from a gram to some hundred kilograms."""

POUND = 0.45359237
_FACTORS = {"tenfold": (10.0, 0.30), "thousandfold": (1000.0, 0.15), "pounds": (POUND, 0.05)}
_SWAPPED = 0.15


@dataclass(frozen=True, slots=True)
class Other:
    """What a typed figure may be instead: its value in the same unit, and the slip's prior."""

    value: float
    slip: str
    prior: float


def kept_logs(values: Iterable[float]) -> tuple[float, ...]:
    """Natural logs of past figures above zero, to 0.01, the newest `MOST_KNOWN` of them.

    Raises ValueError for a figure that is not finite.

    Examples
    --------
    >>> kept_logs([1.0, 0.0, math.e])
    (0.0, 1.0)
    """
    logs = [round(math.log(value), 2) for value in values if finite("value", value) > 0]
    return tuple(logs[-MOST_KNOWN:])


def spread(logs: Sequence[float]) -> float:
    """Robust standard deviation of logs, 1.4826 MAD [2]_, without unit.

    Raises ValueError where there are none.

    Examples
    --------
    >>> round(spread([1.0, 1.1, 1.2, 1.3, 9.0]), 4)
    0.1483
    """
    if not logs:
        raise ValueError("logs are missing")
    middle = median(logs)
    return 1.4826 * median(abs(one - middle) for one in logs)


def kernel_width(logs: Sequence[float]) -> float:
    """Width of a kernel over past logs, in ln. Raises ValueError where there are none.

    Examples
    --------
    >>> kernel_width([1.0, 1.0, 1.0])
    0.05
    """
    return max(BANDWIDTH * spread(logs), LEAST_WIDTH)


def rule() -> dict[str, Any]:
    """Give the numbers of the rule, for whoever follows it elsewhere.

    Examples
    --------
    >>> rule()["slips"][0], rule()["least_known"]
    ((10.0, 0.3), 4)
    """
    return {
        "slips": list(_FACTORS.values()),
        "swapped": _SWAPPED,
        "least_swap": LEAST_SWAP,
        "share": SLIPS,
        "asked_from": ASKED_FROM,
        "broad": BROAD,
        "least_known": LEAST_KNOWN,
    }


def density(log: float, logs: Sequence[float], width: float | None = None) -> float:
    """Density of a log among past ones [1]_, for each unit of ln.

    Student's t with 4 degrees of freedom as kernel, and one broad part of weight 1/(n + 1) for what
    never happened here yet. The kernel is as wide as `kernel_width` says unless it is given.
    Raises ValueError as `spread` does, or for a log that is not finite.

    Examples
    --------
    >>> density(0.0, [0.0, 0.1, 0.2]) > 10 * density(2.3, [0.0, 0.1, 0.2])
    True
    """
    width = width or kernel_width(logs)
    finite("log", log)
    near = sum(0.375 * (1 + ((log - one) / width) ** 2 / 4) ** -2.5 for one in logs) / width
    return (near + BROAD) / (len(logs) + 1)


def past_of(pairs: Sequence[tuple[float, float]]) -> tuple[tuple[float, ...], bool]:
    """Choose what a new figure is held against: past figures, or their shares of what went in.

    Parameters
    ----------
    pairs : sequence of (float, float)
        Each past figure, the oldest first, and what went in with it, in one unit; 0 for nothing.

    Returns
    -------
    tuple
        Natural logs, and whether they are of shares: whichever scatters less [2]_.

    Raises
    ------
    ValueError
        For a figure that is not finite.

    Examples
    --------
    >>> past_of([(1.0, 2.0), (2.0, 4.0), (4.0, 8.0), (8.0, 16.0)])
    ((-0.69, -0.69, -0.69, -0.69), True)
    """
    logs = kept_logs(figure for figure, _ in pairs)
    shares = kept_logs(figure / whole for figure, whole in pairs if whole > 0)
    if len(shares) >= LEAST_KNOWN and spread(shares) < spread(logs):
        return shares, True
    return logs, False


def swapped(text: str) -> list[str]:
    """Every figure that two neighbouring digits of a typed one give when they change places.

    Examples
    --------
    >>> swapped("1.24")
    ['2.14', '1.42']
    """
    digits = [place for place, sign in enumerate(text) if sign.isdigit()]
    found = []
    for one, other in zip(digits, digits[1:], strict=False):
        if text[one] != text[other]:
            signs = list(text)
            signs[one], signs[other] = signs[other], signs[one]
            found.append("".join(signs))
    return found


def others(value: float, swaps: Sequence[float] = ()) -> list[Other]:
    """What a typed figure may be instead, with how often each slip is made.

    Parameters
    ----------
    value : float
        The typed figure, above zero, in any unit.
    swaps : sequence of float
        What it is with two neighbouring digits changed, in the same unit.

    Returns
    -------
    list of Other
        A tenth and ten times as much, a thousandth and a thousand times, pounds [3]_ taken for
        kilograms and kilograms for pounds, and digits swapped.

    Raises
    ------
    ValueError
        For a figure that is not above zero.

    Examples
    --------
    >>> [(one.slip, round(one.value, 3)) for one in others(12.4, [21.4, 14.2])][:2]
    [('tenfold', 1.24), ('tenfold', 124.0)]
    """
    positive("value", value)
    found = [
        Other(changed, slip, prior / 2)
        for slip, (factor, prior) in _FACTORS.items()
        for changed in (value / factor, value * factor)
    ]
    real = [one for one in swaps if one > 0 and abs(math.log(one / value)) > LEAST_SWAP]
    return found + [Other(one, "swapped", _SWAPPED / len(real)) for one in real]


def likely_slips(
    value: float,
    logs: Sequence[float],
    swaps: Sequence[float] = (),
    of: float = 1.0,
    tare: float = 0.0,
) -> list[Other]:
    """Say what a typed figure more likely is; empty where nothing is to be asked.

    Parameters
    ----------
    value : float
        The typed figure, gross where there is a tare, above the tare.
    logs : sequence of float
        Natural logs of past net figures of its kind, or of past shares.
    swaps : sequence of float
        What it is with two neighbouring digits changed, in the same unit.
    of : float
        What a share is of: what went in, in the unit of the figure; 1 where figures are compared.
    tare : float
        What is taken off, in the same unit.

    Returns
    -------
    list of Other
        The likeliest first, at most two, as they would be typed.

    Raises
    ------
    ValueError
        For a figure that is not above its tare, or a whole that is not above zero.

    Examples
    --------
    >>> past = kept_logs([1.1, 1.2, 1.3, 1.25, 1.15])
    >>> [one.value for one in likely_slips(12.4, past)], likely_slips(1.9, past)
    ([1.24], [])
    """
    if len(logs) < LEAST_KNOWN:
        return []
    whole, width = math.log(positive("of", of)), kernel_width(logs)

    def dense(typed: float) -> float:
        return density(math.log(typed - tare) - whole, logs, width) if typed > tare else 0.0

    typed = dense(positive("value", value)) or BROAD / (len(logs) + 1)
    weighed = [(SLIPS * one.prior * dense(one.value) / typed, one) for one in others(value, swaps)]
    if sum(odds for odds, _ in weighed) <= ASKED_FROM:
        return []
    weighed.sort(key=lambda one: -one[0])
    best = weighed[0][0]
    return [one for odds, one in weighed[:2] if odds > best / 5]
