"""Every state of the evidence is named, said in words, and fit for JSON."""

import json
from dataclasses import asdict

import numpy as np
import pytest

from recycling.calc.suspects.exposure import dense_shares
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.priors import SuspectPriors
from recycling.calc.suspects.ranking import MAIN_WORDS, RankingState, ranking

TWO = [[1, 0]] * 4 + [[0, 1]] * 6


def ranked(matrix, standing, **priors):
    matrix = np.array(matrix, dtype=float).reshape(len(standing), -1)
    return ranking(weigh_suspects(dense_shares(matrix), standing, SuspectPriors(**priors)))


BOOKS = {
    RankingState.NO_VERDICTS: (TWO, [-1] * 10),
    RankingState.ONLY_CONTRADICTORY: (TWO, [2, 2] + [-1] * 8),
    RankingState.NO_CANDIDATES: ([[0, 0]] * 6 + [[1, 0]], [1, 1, 0, 0, 0, 0, -1]),
    RankingState.ONLY_GOOD: (TWO, [0] * 10),
    RankingState.ONLY_BAD: (TWO, [1] * 10),
    RankingState.NO_CONTRAST: ([[1, 0]] * 8, [1] * 4 + [0] * 4),
    RankingState.TOO_LITTLE: (TWO, [1, 0, -1, -1, 0] + [-1] * 5),
    RankingState.NONE_LEADS: (TWO, [1, 0, 0, 0, 1, 0, 0, 0, 0, 0]),
    RankingState.UNDECIDED: (
        [[1, 0, 0], [0, 1, 0], [0, 0, 1]] * 2 + [[0.2, 0.2, 0.2], [0.2, 0.2, 0]] + [[0, 0, 0]] * 9,
        [1, 1, 0, 1, 1, 0, 1, 1] + [0] * 9,
    ),
    RankingState.SUSPECT: (TWO, [1] * 4 + [0] * 6),
}


@pytest.mark.parametrize("state", RankingState)
def test_each_state_is_reached_and_said(state):
    found = ranked(*BOOKS[state])
    assert found.state == state
    start = MAIN_WORDS[state].split("{")[0]
    assert found.words[0].startswith(start)
    assert "{" not in " ".join(found.words)
    json.dumps(asdict(found), allow_nan=False)


def test_no_book_at_all():
    found = ranking(weigh_suspects(dense_shares(np.zeros((0, 0))), []))
    assert (found.state, found.lines, found.none_posterior) == ("no_verdicts", (), 1.0)


def test_only_good_lowers_every_suspicion():
    found = ranked(*BOOKS[RankingState.ONLY_GOOD])
    assert found.none_posterior > 0.8
    assert all(line.posterior < 0.25 for line in found.lines)
    assert "nothing to explain" in found.words[0]


def test_only_bad_from_one_collection_warns_that_nothing_can_be_compared():
    found = ranked([[1, 0]] * 5, [1] * 5)
    assert found.state == "only_bad"
    assert "without a good one to compare with" in found.words[0]


def test_all_spools_from_one_collection_cannot_be_told_from_the_background():
    found = ranked([[1, 1, 0]] * 8, [1] * 4 + [0] * 4)
    assert found.lines[0].members == (0, 1)
    assert found.unseen == (2,)
    assert found.lines[0].p_value == 1


def test_contradictory_verdicts_on_like_spools_are_counted_and_said():
    found = ranked([[1, 0]] * 4 + [[0, 1]] * 6, [1, 1, 0, 0, 0, 0, 0, 0, 0, 2])
    assert (found.unlike_twins, found.contradictory) == (2, 1)
    assert "1 spool called both good and bad left out." in found.words
    assert "2 spools judged good with the same exposures as a bad one." in found.words


def test_a_lead_that_rests_on_one_bad_spool_is_too_little():
    matrix = [[1, 0, 0]] + [[0, 1, 0]] * 4 + [[0, 0, 1]] * 15
    found = ranked(matrix, [1, 1] + [0] * 18, cause_probability=0.95)
    assert found.lines[0].touched_bad == 1
    assert found.state == "too_little"
    assert "1 of those with the first line in it" in found.words[0]


def test_unseen_candidates_keep_their_chance_apart():
    found = ranked([[1, 0, 0]] * 4 + [[0, 1, 0]] * 6, [0] * 10)
    assert found.unseen == (2,)
    lines = sum(line.posterior for line in found.lines)
    assert found.unseen_posterior > found.lines[0].posterior
    assert lines + found.none_posterior + found.unseen_posterior == pytest.approx(1)


def test_lines_beyond_the_limit_are_summed_up():
    random = np.random.default_rng(2)
    matrix = random.random((20, 12)) * (random.random((20, 12)) < 0.3)
    suspicion = weigh_suspects(dense_shares(matrix), random.integers(0, 2, 20))
    all_lines, few = ranking(suspicion), ranking(suspicion, limit=3)
    assert few.lines == all_lines.lines[:3]
    assert few.lines_in_all == all_lines.lines_in_all == 12
    left = sum(line.posterior for line in all_lines.lines[3:])
    assert few.others_posterior == pytest.approx(left)
    assert [line.rank for line in all_lines.lines] == list(range(1, 13))
    posteriors = [line.posterior for line in all_lines.lines]
    assert posteriors == sorted(posteriors, reverse=True)
    with pytest.raises(ValueError, match="at least one"):
        ranking(suspicion, limit=0)


def test_an_odds_ratio_that_is_not_finite_is_none():
    found = ranked(*BOOKS[RankingState.SUSPECT])
    assert found.lines[0].odds_ratio is None
    assert found.lines[1].odds_ratio == 0


def test_the_words_are_suspicion_and_never_certainty():
    said = " ".join(MAIN_WORDS.values())
    for state, book in BOOKS.items():
        said += " ".join(ranked(*book).words) + state.value
    for word in ("prov", "certain", "guilty", "100 %", " 0 %"):
        assert word not in said.lower()
    assert "Suspicion falls" in said


def test_the_threshold_of_a_suspect_can_be_raised():
    book = BOOKS[RankingState.SUSPECT]
    assert ranked(*book, lead_posterior=0.99999).state == "undecided"
    assert ranked(*book, least_judged=11).state == "too_little"
