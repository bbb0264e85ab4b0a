"""Flake size: the share of particles above a limit, how sure it is, and what to do.

Sources
-------
.. [1] C. J. Clopper, E. S. Pearson: The use of confidence or fiducial limits illustrated in
   the case of the binomial. Biometrika 26 (1934) 404-413; by beta quantiles as in
   NIST/SEMATECH e-Handbook 7.2.4.1.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from recycling.calc.guards import finite, positive, share, some, whole


@dataclass(frozen=True, slots=True)
class SizeCheck:
    """The verdict on a sample of particles.

    Attributes
    ----------
    measured, above : int
        Particles measured, and those above the limit.
    share, low, high : float
        Share above the limit and its interval, all between 0 and 1.
    decision : {"feed", "run again"}
        What to do with the lot.
    sure : bool
        Whether the whole interval is on the decision's side of the allowed share.
    sentence : str
        The verdict in words.
    """

    measured: int
    above: int
    share: float
    low: float
    high: float
    decision: str
    sure: bool
    sentence: str


def _confidence(confidence: float) -> float:
    if not 0 < finite("confidence", confidence) < 1:
        raise ValueError(f"confidence lies between 0 and 1, not {confidence!r}")
    return confidence


def clopper_pearson(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval of a share of which k in n were seen.

    Parameters
    ----------
    k, n : int
        Seen and looked at, 0 ≤ k ≤ n, n ≥ 1.
    confidence : float
        At least this often the interval covers the true share; between 0 and 1.

    Returns
    -------
    tuple of float
        B(α/2; k, n−k+1) and B(1−α/2; k+1, n−k), B the beta quantile; 0 for k = 0 and 1
        for k = n [1]_.

    Raises
    ------
    ValueError
        For n = 0, k outside 0 … n, or a confidence outside 0 … 1.

    Examples
    --------
    >>> low, high = clopper_pearson(1, 10)
    >>> round(low, 6), round(high, 6)
    (0.002529, 0.445016)
    """
    whole("n", n, least=1)
    if whole("k", k) > n:
        raise ValueError(f"k cannot be more than n: {k} of {n}")
    alpha = 1 - _confidence(confidence)
    from scipy.special import betaincinv

    low = float(betaincinv(k, n - k + 1, alpha / 2)) if k else 0.0
    high = float(betaincinv(k + 1, n - k, 1 - alpha / 2)) if k < n else 1.0
    return low, high


def size_check(
    largest_mm: Sequence[float], limit_mm: float, allowed: float, confidence: float = 0.95
) -> SizeCheck:
    """Decide whether flake may be fed, from the largest dimensions of a sample of particles.

    Parameters
    ----------
    largest_mm : sequence of float
        Largest dimension of each particle measured, mm, positive.
    limit_mm : float
        Size above which a particle is too large, mm.
    allowed : float
        Share above the limit that the workshop allows, 0 to 1.
    confidence : float
        Of the interval beside the share, between 0 and 1.

    Returns
    -------
    SizeCheck
        ``run again`` where the share seen is more than allowed, else ``feed`` [1]_.

    Raises
    ------
    ValueError
        For no particles, a size or limit that is not positive, or shares outside 0 … 1.

    Examples
    --------
    >>> size_check([2.0, 3.1, 3.9, 5.2], limit_mm=4.0, allowed=0.05).decision
    'run again'
    """
    positive("limit_mm", limit_mm)
    share("allowed", allowed)
    n = len(some("largest_mm", largest_mm))
    k = sum(positive("largest_mm", size) > limit_mm for size in largest_mm)
    low, high = clopper_pearson(k, n, confidence)
    again = k / n > allowed
    sure = low > allowed if again else high <= allowed
    decision = "run again" if again else "feed"
    sentence = (
        f"{k} of {n} particles are above {limit_mm:g} mm: {decision}. The lot's share is between"
        f" {100 * low:.1f} % and {100 * high:.1f} % ({100 * confidence:g} % confidence)"
        + ("." if sure else f"; {n} particles cannot tell it from the allowed share.")
    )
    return SizeCheck(n, k, k / n, low, high, decision, sure, sentence)


def particles_to_be_sure(allowed: float, confidence: float = 0.95) -> int:
    """Fewest particles that, with none above the limit, show that a share is not exceeded.

    n = ⌈ln(α/2)/ln(1 − allowed)⌉, which is `clopper_pearson` with k = 0 turned round [1]_.
    Raises ValueError unless both arguments lie between 0 and 1, ends left out.

    Examples
    --------
    >>> particles_to_be_sure(0.05)
    72
    """
    if not 0 < finite("allowed", allowed) < 1:
        raise ValueError(f"allowed lies between 0 and 1, not {allowed!r}")
    return math.ceil(math.log((1 - _confidence(confidence)) / 2) / math.log1p(-allowed))
