"""Which spool to ask about next: the one whose verdict is expected to tell the most.

References
----------
.. [1] Lindley, D. V. (1956). On a measure of the information provided by an experiment. Annals of
   Mathematical Statistics 27, 986-1005.
.. [2] Cover, T. M. and Thomas, J. A. (2006). Elements of Information Theory, 2nd ed., section 2.4.
"""

from dataclasses import dataclass

import numpy as np

from recycling.calc.suspects.exposure import Shares, exposure_of_share
from recycling.calc.suspects.noisy_or import between_nodes
from recycling.calc.suspects.posterior import Suspicion


@dataclass(frozen=True)
class NextVerdict:
    """An unjudged spool or retained sample, and what its verdict would be worth.

    Attributes
    ----------
    spool : int
        Its row in the shares given.
    gain_bits : float
        Expected reduction of the entropy over candidates and "none of these", in bits.
    bad_chance : float
        Predicted chance that it is bad, 0 to 1.
    """

    spool: int
    gain_bits: float
    bad_chance: float


def verdict_gains(suspicion: Suspicion, shares: Shares):
    """Give for each unjudged spool what its verdict would tell, and how likely it is bad.

    Parameters
    ----------
    suspicion : Suspicion
        From ``weigh_suspects``, over the same candidates.
    shares : Shares
        Mass fractions of the unjudged spools or retained samples; one that is not known (NaN)
        counts as none.

    Returns
    -------
    gain_bits : numpy.ndarray of float, shape (spools,)
        Expected reduction of entropy by the verdict, in bits, never below 0.
    bad_chance : numpy.ndarray of float, shape (spools,)
        Predicted chance of a bad verdict, 0 to 1.

    Raises
    ------
    ValueError
        If the shares have another number of candidates than the suspicion.

    Notes
    -----
    With h the entropy of a yes or no, the expected reduction is the mutual information [2]_ between
    verdict V and cause k,

    .. math:: I = h\\Bigl(\\sum_k P(k) P(V \\mid k)\\Bigr) - \\sum_k P(k)\\, h(P(V \\mid k))

    Examples
    --------
    Nothing is judged; a spool with one candidate tells more than one with none:

    >>> from recycling.calc.suspects.exposure import dense_shares
    >>> from recycling.calc.suspects.posterior import weigh_suspects
    >>> unjudged = dense_shares([[1.0, 0.0], [0.0, 0.0]])
    >>> gain, bad = verdict_gains(weigh_suspects(unjudged, [-1, -1]), unjudged)
    >>> gain.round(3), bad.round(3)
    (array([0.239, 0.   ]), array([0.25, 0.1 ]))
    """
    if shares.candidates != len(suspicion.line_of):
        raise ValueError("the shares have other candidates than the suspicion")
    belief, line = _candidate_posterior(suspicion), suspicion.line_of
    unexposed = suspicion.evidence.good_chance[:, 0][line]
    good_if_exposed = _good_chance(suspicion, shares)
    believed = belief[shares.candidate]
    before = unexposed[shares.candidate]

    def over_spools(exposed, otherwise):
        return np.bincount(
            shares.spool, weights=believed * (exposed - otherwise), minlength=shares.spools
        )

    none_good = suspicion.none_good_chance
    base_good = belief @ unexposed + suspicion.none_posterior * none_good
    base_doubt = belief @ _doubt(unexposed) + suspicion.none_posterior * _doubt(none_good)
    good = np.clip(base_good + over_spools(good_if_exposed, before), 0.0, 1.0)
    doubt = base_doubt + over_spools(_doubt(good_if_exposed), _doubt(before))
    return np.maximum(_doubt(good) - doubt, 0.0), 1 - good


def next_verdicts(suspicion: Suspicion, shares: Shares, limit=5) -> tuple[NextVerdict, ...]:
    """Name the unjudged spools whose verdicts would tell the most, the best first.

    Parameters
    ----------
    suspicion : Suspicion
        From ``weigh_suspects``, over the same candidates.
    shares : Shares
        Mass fractions of the unjudged spools or retained samples.
    limit : int
        How many to name at most.

    Returns
    -------
    tuple of NextVerdict
        Spools that would tell nothing are not named; of equal ones the first comes first.

    Raises
    ------
    ValueError
        If the shares have another number of candidates than the suspicion.

    Examples
    --------
    >>> from recycling.calc.suspects.exposure import dense_shares
    >>> from recycling.calc.suspects.posterior import weigh_suspects
    >>> judged = weigh_suspects(dense_shares([[1, 1, 0]] * 3 + [[0, 0, 1]] * 4), [1] * 3 + [0] * 4)
    >>> next_verdicts(judged, dense_shares([[0, 0, 1.0], [1.0, 0, 0]]))[0].spool
    1
    """
    gain, bad = verdict_gains(suspicion, shares)
    order = np.argsort(-gain, kind="stable")[:limit]
    return tuple(
        NextVerdict(int(spool), float(gain[spool]), float(bad[spool]))
        for spool in order
        if gain[spool] > 1e-9
    )


def _candidate_posterior(suspicion):
    """Share each line's posterior among its candidates."""
    return suspicion.posterior[suspicion.line_of] * suspicion.weight


def _good_chance(suspicion, shares):
    """Predict the chance of a good verdict for each entry, were its candidate the cause."""
    priors = suspicion.priors
    share = np.nan_to_num(shares.share, nan=0.0)
    start, weight = between_nodes(exposure_of_share(share, priors.full_share, priors.curve_power))
    line = suspicion.line_of[shares.candidate]
    nodes = start[:, None] + np.arange(4)
    return (suspicion.evidence.good_chance[line[:, None], nodes] * weight).sum(axis=1)


def _doubt(chance):
    """Give the entropy of a yes or no in bits [2]_."""
    chance = np.clip(chance, 1e-300, 1 - 1e-16)
    return -(chance * np.log2(chance) + (1 - chance) * np.log2(1 - chance))
