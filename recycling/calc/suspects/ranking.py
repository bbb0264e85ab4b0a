"""The ranking of suspects as people read it: lines in order, a named state, and sentences."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from recycling.calc.suspects.posterior import Suspicion
from recycling.calc.suspects.priors import SuspectPriors


class RankingState(StrEnum):
    """How far the verdicts carry."""

    NO_VERDICTS = "no_verdicts"
    ONLY_CONTRADICTORY = "only_contradictory"
    NO_CANDIDATES = "no_candidates"
    ONLY_GOOD = "only_good"
    ONLY_BAD = "only_bad"
    NO_CONTRAST = "no_contrast"
    TOO_LITTLE = "too_little"
    NONE_LEADS = "none_leads"
    UNDECIDED = "undecided"
    SUSPECT = "suspect"


@dataclass(frozen=True)
class SuspectLine:
    """One line of the ranking: a candidate, or several that cannot be told apart.

    Attributes
    ----------
    rank : int
        Place from 1.
    members : tuple of int
        The candidates, by their column.
    posterior : float
        Chance that the cause is in this line, 0 to 1, under the stated assumptions.
    bayes_factor_log10 : float
        Decimal logarithm of the evidence for the line against "none of these".
    spoil_chance : float
        Expected chance, 0 to 1, that it spoils a fully exposed spool, were it the cause.
    exposed_bad, exposed_good, unexposed_bad, unexposed_good : int
        The 2 x 2 table, counts of spools.
    odds_ratio : float or None
        Of that table; None where no finite one exists.
    p_value, adjusted_p_value : float
        Fisher's exact test, two-sided, and its Benjamini-Hochberg adjusted value.
    touched_bad, touched_good : int
        Bad and good judged spools with any share of it, traces included: what the line rests on.
    """

    rank: int
    members: tuple[int, ...]
    posterior: float
    bayes_factor_log10: float
    spoil_chance: float
    exposed_bad: int
    exposed_good: int
    unexposed_bad: int
    unexposed_good: int
    odds_ratio: float | None
    p_value: float
    adjusted_p_value: float
    touched_bad: int
    touched_good: int


@dataclass(frozen=True)
class SuspectRanking:
    """What the verdicts say, ready for a page or for JSON.

    Attributes
    ----------
    state : RankingState
        How far the verdicts carry.
    words : tuple of str
        The same in sentences, the main one first.
    lines : tuple of SuspectLine
        The first lines in order; empty where there is nothing to rank.
    lines_in_all : int
        Lines in any judged spool, shown or not.
    none_posterior : float
        Chance that none of the candidates is the cause, 0 to 1.
    others_posterior : float
        Chance of the lines that are not shown, 0 to 1.
    unseen : tuple of int
        Candidates that no judged spool holds; the verdicts say nothing of them directly.
    unseen_posterior : float
        Chance of all of those together, 0 to 1.
    bad_spools, good_spools, not_judged, contradictory, unlike_twins : int
        Counts of spools that it rests on or that were left out.
    priors : SuspectPriors
        The assumptions used.
    """

    state: RankingState
    words: tuple[str, ...]
    lines: tuple[SuspectLine, ...]
    lines_in_all: int
    none_posterior: float
    others_posterior: float
    unseen: tuple[int, ...]
    unseen_posterior: float
    bad_spools: int
    good_spools: int
    not_judged: int
    contradictory: int
    unlike_twins: int
    priors: SuspectPriors


def ranking(suspicion: Suspicion, limit=50) -> SuspectRanking:
    """Order the lines by posterior and say how far the verdicts carry.

    Parameters
    ----------
    suspicion : Suspicion
        From ``weigh_suspects``.
    limit : int
        How many lines to show at most; at least 1.

    Returns
    -------
    SuspectRanking
        Lines of equal posterior are ordered by p-value, then by their first candidate.

    Raises
    ------
    ValueError
        If the limit is below 1.

    Examples
    --------
    >>> from recycling.calc.suspects.exposure import dense_shares
    >>> from recycling.calc.suspects.posterior import weigh_suspects
    >>> shares = dense_shares([[1, 1, 0]] * 4 + [[0, 0, 1]] * 6)
    >>> found = ranking(weigh_suspects(shares, [1] * 4 + [0] * 6))
    >>> found.state.value, found.lines[0].members, found.lines[0].exposed_bad
    ('suspect', (0, 1), 4)
    >>> print(found.words[1])
    The first line is 2 candidates that no judged spool tells apart.
    """
    if limit < 1:
        raise ValueError("the ranking shows at least one line")
    seen = np.any(suspicion.touched, axis=1)
    in_play = np.flatnonzero(seen)
    first = _first_members(suspicion)
    order = in_play[
        np.lexsort((first[in_play], suspicion.p_value[in_play], -suspicion.posterior[in_play]))
    ]
    shown = order[:limit]
    lines = _lines(suspicion, shown)
    state = _state(suspicion, lines)
    return SuspectRanking(
        state=state,
        words=_words(state, suspicion, lines),
        lines=lines,
        lines_in_all=len(order),
        none_posterior=suspicion.none_posterior,
        others_posterior=float(suspicion.posterior[order[limit:]].sum()),
        unseen=tuple(np.flatnonzero(~seen[suspicion.line_of]).tolist()),
        unseen_posterior=float(suspicion.posterior[~seen].sum()),
        bad_spools=suspicion.bad_spools,
        good_spools=suspicion.good_spools,
        not_judged=suspicion.not_judged,
        contradictory=suspicion.contradictory,
        unlike_twins=suspicion.unlike_twins,
        priors=suspicion.priors,
    )


def _first_members(suspicion):
    """Give the first candidate of each line."""
    first = np.full(len(suspicion.posterior), len(suspicion.line_of))
    np.minimum.at(first, suspicion.line_of, np.arange(len(suspicion.line_of)))
    return first


def _lines(suspicion: Suspicion, shown: np.ndarray) -> tuple[SuspectLine, ...]:
    """Turn the shown lines' columns into records."""
    place = np.full(len(suspicion.posterior), -1)
    place[shown] = np.arange(len(shown))
    members: list[list[int]] = [[] for _ in shown]
    for candidate in np.flatnonzero(place[suspicion.line_of] >= 0).tolist():
        members[place[suspicion.line_of[candidate]]].append(candidate)
    return tuple(
        _line(suspicion, line, rank, tuple(members[rank - 1]))
        for rank, line in enumerate(shown.tolist(), start=1)
    )


def _line(suspicion: Suspicion, line: int, rank: int, members: tuple[int, ...]) -> SuspectLine:
    """Give one line of the ranking as a record."""
    ratio = float(suspicion.odds_ratio[line])
    columns: list[Any] = [
        float(suspicion.posterior[line]),
        float(suspicion.evidence.log_factor[line] / np.log(10)),
        float(suspicion.evidence.spoil_mean[line]),
        *suspicion.tables[line].tolist(),
        ratio if np.isfinite(ratio) else None,
        float(suspicion.p_value[line]),
        float(suspicion.adjusted[line]),
        *suspicion.touched[line].tolist(),
    ]
    return SuspectLine(rank, members, *columns)


def _state(suspicion, lines):
    """Name how far the verdicts carry; the first that holds."""
    priors, judged = suspicion.priors, suspicion.bad_spools + suspicion.good_spools
    if not judged:
        contradictory = suspicion.contradictory
        return RankingState.ONLY_CONTRADICTORY if contradictory else RankingState.NO_VERDICTS
    if not lines:
        return RankingState.NO_CANDIDATES
    if not suspicion.bad_spools:
        return RankingState.ONLY_GOOD
    if not suspicion.good_spools:
        return RankingState.ONLY_BAD
    if suspicion.alike_everywhere:
        return RankingState.NO_CONTRAST
    if judged < priors.least_judged or suspicion.bad_spools < priors.least_bad:
        return RankingState.TOO_LITTLE
    if suspicion.none_posterior >= lines[0].posterior:
        return RankingState.NONE_LEADS
    if lines[0].touched_bad < priors.least_bad:
        return RankingState.TOO_LITTLE
    if lines[0].posterior >= priors.lead_posterior:
        return RankingState.SUSPECT
    return RankingState.UNDECIDED


MAIN_WORDS = {
    RankingState.NO_VERDICTS: "No spool has been judged yet, so nothing can be said.",
    RankingState.ONLY_CONTRADICTORY: (
        "Every judged spool was called both good and bad, so nothing can be said."
    ),
    RankingState.NO_CANDIDATES: (
        "None of the judged spools holds any of the candidates, so nothing can be said of them."
    ),
    RankingState.ONLY_GOOD: "All {judged} judged are good: there is nothing to explain.",
    RankingState.ONLY_BAD: (
        "All {judged} judged are bad: without a good one to compare with, what is common to "
        "them stands out only against the background that was assumed beforehand."
    ),
    RankingState.NO_CONTRAST: (
        "All {judged} judged hold the same candidates to the same degree, so the verdicts "
        "cannot tell the candidates apart, nor them from the background."
    ),
    RankingState.TOO_LITTLE: (
        "Too little evidence: {judged} judged, {bad} of them bad{lead_rests}. "
        "The order below may change with the next verdict."
    ),
    RankingState.NONE_LEADS: (
        "No candidate stands out: none of these is the likeliest reading (posterior {none})."
    ),
    RankingState.UNDECIDED: (
        "No single line carries the suspicion yet: the first has a posterior of {lead}, "
        "none of these {none}."
    ),
    RankingState.SUSPECT: (
        "Suspicion falls on the first line (posterior {lead}): it is in {lead_bad} of {bad} bad "
        "and {lead_good} of {good} good spools."
    ),
}
"""The main sentence of each state."""


def _words(state, suspicion, lines):
    """Put the state and what was left out into sentences."""
    lead = lines[0] if lines else None
    facts = {
        "judged": _spools(suspicion.bad_spools + suspicion.good_spools),
        "bad": suspicion.bad_spools,
        "good": suspicion.good_spools,
        "none": _percent(suspicion.none_posterior),
        "lead": _percent(lead.posterior) if lead else "",
        "lead_bad": lead.touched_bad if lead else 0,
        "lead_good": lead.touched_good if lead else 0,
        "lead_rests": f", {lead.touched_bad} of those with the first line in it" if lead else "",
    }
    sentences = [MAIN_WORDS[state].format(**facts)]
    if lead and len(lead.members) > 1:
        sentences.append(
            f"The first line is {len(lead.members)} candidates that no judged spool tells apart."
        )
    if suspicion.contradictory and state != RankingState.ONLY_CONTRADICTORY:
        sentences.append(f"{_spools(suspicion.contradictory)} called both good and bad left out.")
    if suspicion.unlike_twins:
        sentences.append(
            f"{_spools(suspicion.unlike_twins)} judged good with the same exposures as a bad one."
        )
    return tuple(sentences)


def _percent(chance):
    """Write a chance as a whole percentage, without ever rounding it to none or to certainty."""
    if chance > 0.99:
        return "over 99 %"
    if chance < 0.01:
        return "under 1 %"
    return f"{chance:.0%}".replace("%", " %")


def _spools(count):
    """Write a number of spools."""
    return f"{count} spool" if count == 1 else f"{count} spools"
