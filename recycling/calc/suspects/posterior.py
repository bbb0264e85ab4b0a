"""Which candidate spoilt the spools: one cause or none of these, weighed over all judged spools.

Candidates are what spools descend from and what was done to them. Those with the same exposure in
every judged spool cannot be told apart and form one line. The result is suspicion with its grounds,
never certainty.

With the prior chance :math:`\\pi` of a cause, the weight w of line k and its Bayes factor F against
"none of these" (``recycling.calc.suspects.noisy_or``), the posterior by Bayes' rule is

.. math:: P(k) = \\frac{\\pi w_k F_k}{(1 - \\pi) + \\pi \\sum_j w_j F_j}

An exposure that is not known counts as the candidate's mean over the spools where it is known, and
is left out of its 2 x 2 table. The judged spools are taken as independent given the cause.
"""

from dataclasses import dataclass

import numpy as np

from recycling.calc.quality.verdicts import Standing
from recycling.calc.suspects.evidence_tables import benjamini_hochberg, fisher_exact, odds_ratio
from recycling.calc.suspects.exposure import Shares, alike, exposure_of_share
from recycling.calc.suspects.noisy_or import CauseEvidence, weigh_causes
from recycling.calc.suspects.priors import SuspectPriors


@dataclass(frozen=True, eq=False)
class Suspicion:
    """What all verdicts say of all candidates, as columns; ``ranking`` puts it into words.

    Attributes
    ----------
    line_of : numpy.ndarray of int, shape (candidates,)
        Line that each candidate belongs to.
    weight : numpy.ndarray of float, shape (candidates,)
        The candidate's part of its line's posterior, adding up to 1 in each line.
    posterior : numpy.ndarray of float, shape (lines,)
        Chance that the one cause is in the line.
    none_posterior : float
        Chance that none of the candidates is the cause.
    evidence : CauseEvidence
        Bayes factors and predictions of each line.
    none_good_chance : float
        Predicted chance of a good verdict if none of the candidates is the cause.
    tables : numpy.ndarray of int, shape (lines, 4)
        Exposed bad, exposed good, unexposed bad, unexposed good spools.
    odds_ratio, p_value, adjusted : numpy.ndarray of float, shape (lines,)
        Of the tables; adjusted for all lines in any judged spool, NaN for the others.
    touched : numpy.ndarray of int, shape (lines, 2)
        Bad and good judged spools with any share of the line.
    alike_everywhere : bool
        True where every line has one exposure throughout: nothing to compare.
    bad_spools, good_spools, not_judged, contradictory, unlike_twins : int
        Counts of spools; unlike twins are good spools with a bad one of equal exposures.
    priors : SuspectPriors
        The assumptions used.
    """

    line_of: np.ndarray
    weight: np.ndarray
    posterior: np.ndarray
    none_posterior: float
    evidence: CauseEvidence
    none_good_chance: float
    tables: np.ndarray
    odds_ratio: np.ndarray
    p_value: np.ndarray
    adjusted: np.ndarray
    touched: np.ndarray
    alike_everywhere: bool
    bad_spools: int
    good_spools: int
    not_judged: int
    contradictory: int
    unlike_twins: int
    priors: SuspectPriors


@dataclass(frozen=True, eq=False)
class _Lines:
    """Entries of the judged spools, with like candidates reduced to the first of each line."""

    line: np.ndarray
    spool: np.ndarray
    share: np.ndarray
    exposure: np.ndarray
    bad: np.ndarray
    count: int


def weigh_suspects(shares: Shares, standing, priors=None, weights=None) -> Suspicion:
    """Weigh every candidate against "none of these" over the judged spools.

    Parameters
    ----------
    shares : Shares
        Mass fraction of each spool in each candidate; NaN where not known.
    standing : array_like of int, shape (spools,)
        Values of ``Standing``; spools not judged and contradictory ones are left out.
    priors : SuspectPriors, optional
        The assumptions; the defaults where not given.
    weights : array_like of float, shape (candidates,), optional
        How much of the prior chance of a cause each candidate gets, in proportion; even where not
        given.

    Returns
    -------
    Suspicion

    Raises
    ------
    ValueError
        If there is not one standing for each spool and one positive weight for each candidate.

    Examples
    --------
    Ten spools; the four that hold the first of two collections are bad:

    >>> from recycling.calc.suspects.exposure import dense_shares
    >>> shares = dense_shares([[1, 0]] * 4 + [[0, 1]] * 6)
    >>> found = weigh_suspects(shares, [1] * 4 + [0] * 6)
    >>> found.posterior.round(3), round(found.none_posterior, 4)
    (array([0.998, 0.   ]), 0.0016)
    >>> found.tables.tolist()
    [[4, 0, 0, 6], [0, 6, 4, 0]]
    """
    priors = priors or SuspectPriors()
    standing = np.asarray(standing, dtype=np.int64)
    if standing.shape != (shares.spools,):
        raise ValueError("standing needs one value for each spool")
    weights = _checked_weights(weights, shares.candidates)
    judged = (standing == Standing.GOOD) | (standing == Standing.BAD)
    bad = standing[judged] == Standing.BAD
    kept, exposure = _exposed(shares.of_spools(judged), priors)
    line_of, first = alike(kept.spool, kept.candidate, exposure, shares.candidates)
    lines = _first_of_line(kept, exposure, bad, line_of, first)
    return Suspicion(
        line_of=line_of,
        **_belief(lines, bad, weights, line_of, priors),
        **_plain_tables(lines, bad, priors.exposed_share),
        alike_everywhere=_alike_everywhere(lines, len(bad)),
        bad_spools=int(bad.sum()),
        good_spools=int((~bad).sum()),
        not_judged=int((standing == Standing.NOT_JUDGED).sum()),
        contradictory=int((standing == Standing.CONTRADICTORY).sum()),
        unlike_twins=_unlike_twins(kept, exposure, bad),
        priors=priors,
    )


def _belief(lines, bad, weights, line_of, priors):
    """Weigh the lines and share one unit of belief between them and "none of these"."""
    bad_spools, good_spools = int(bad.sum()), int((~bad).sum())
    line, exposure = lines.line, _known(lines, len(bad))
    counts = lines.count, bad_spools, good_spools
    evidence = weigh_causes(line, exposure, lines.bad, *counts, priors)
    line_weight = np.bincount(line_of, weights=weights, minlength=lines.count)
    posterior, none = _posterior(line_weight, evidence.log_factor, priors.cause_probability)
    alpha, beta = priors.background_alpha + bad_spools, priors.background_beta + good_spools
    return {
        "weight": weights / line_weight[line_of],
        "posterior": posterior,
        "none_posterior": none,
        "evidence": evidence,
        "none_good_chance": beta / (alpha + beta),
    }


def _checked_weights(weights, candidates):
    """Give the prior weights of the candidates, even where none are given."""
    if weights is None:
        return np.ones(candidates)
    weights = np.asarray(weights, dtype=float)
    if weights.shape != (candidates,) or not np.all((weights > 0) & np.isfinite(weights)):
        raise ValueError("weights need one number above 0 for each candidate")
    return weights


def _exposed(shares, priors):
    """Give the judged entries and their exposures, without those too small to count as any."""
    exposure = exposure_of_share(shares.share, priors.full_share, priors.curve_power)
    counts = (exposure >= 1e-4) | (shares.share >= priors.exposed_share) | np.isnan(exposure)
    if counts.all():
        return shares, exposure
    kept = Shares(
        shares.spool[counts],
        shares.candidate[counts],
        shares.share[counts],
        shares.spools,
        shares.candidates,
    )
    return kept, exposure[counts]


def _first_of_line(shares, exposure, bad, line_of, first):
    """Keep the entries of the first candidate of each line."""
    line = line_of[shares.candidate]
    entry = first[line] == shares.candidate
    spool = shares.spool[entry]
    return _Lines(line[entry], spool, shares.share[entry], exposure[entry], bad[spool], len(first))


def _known(lines, spools):
    """Give the exposure of each entry, unknown ones at their line's mean."""
    unknown = np.isnan(lines.exposure)
    if not unknown.any():
        return lines.exposure
    missing = np.bincount(lines.line[unknown], minlength=lines.count)
    held = np.where(unknown, 0.0, lines.exposure)
    total = np.bincount(lines.line, weights=held, minlength=lines.count)
    mean = total / np.maximum(spools - missing, 1)
    return np.where(unknown, mean[lines.line], lines.exposure)


def _posterior(line_weight, log_factor, cause_probability):
    """Apply Bayes' rule to the lines and "none of these"."""
    if not len(line_weight):
        return np.zeros(0), 1.0
    log_belief = np.log(cause_probability * line_weight / line_weight.sum()) + log_factor
    log_none = np.log1p(-cause_probability)
    top = max(log_belief.max(), log_none)
    belief, none = np.exp(log_belief - top), np.exp(log_none - top)
    total = belief.sum() + none
    return belief / total, float(none / total)


def _plain_tables(lines, bad, exposed_share):
    """Count the 2 x 2 tables of all lines and test them."""

    def per_line(chosen):
        return np.bincount(lines.line[chosen], minlength=lines.count)

    exposed, unknown = lines.share >= exposed_share, np.isnan(lines.share)
    a, b = per_line(exposed & lines.bad), per_line(exposed & ~lines.bad)
    c = bad.sum() - a - per_line(unknown & lines.bad)
    d = (~bad).sum() - b - per_line(unknown & ~lines.bad)
    tables = np.column_stack([a, b, c, d])
    touched = np.column_stack([per_line(lines.bad), per_line(~lines.bad)])
    p_value = fisher_exact(tables)
    adjusted = np.full(lines.count, np.nan)
    seen = touched.any(axis=1)
    adjusted[seen] = benjamini_hochberg(np.minimum(p_value[seen], 1.0))
    return {
        "tables": tables,
        "odds_ratio": odds_ratio(tables),
        "p_value": p_value,
        "adjusted": adjusted,
        "touched": touched,
    }


def _alike_everywhere(lines, spools):
    """Say whether no line differs between any two judged spools."""
    entries = np.bincount(lines.line, minlength=lines.count)
    if np.any((entries > 0) & (entries < spools)):
        return False
    highest, lowest = np.zeros(lines.count), np.ones(lines.count)
    np.maximum.at(highest, lines.line, lines.exposure)
    np.minimum.at(lowest, lines.line, lines.exposure)
    return not np.any(highest[entries > 0] - lowest[entries > 0] > 1e-4)


def _unlike_twins(shares, exposure, bad):
    """Count good spools for which there is a bad one with the same exposure to everything."""
    kind, _ = alike(shares.candidate, shares.spool, exposure, shares.spools)
    return int(np.isin(kind[~bad], kind[bad]).sum())
