"""How often the search is right in 200 simulated books with a cause and 200 without.

The books are invented; the targets are the ones this project set itself.
"""

import numpy as np
import pytest

from recycling.calc.suspects.exposure import dense_shares, exposure_of_share, listed_shares
from recycling.calc.suspects.next_verdict import next_verdicts
from recycling.calc.suspects.noisy_or import bad_chance
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.ranking import ranking
from recycling.management.benchmark.suspects import large_book
from tests.calc.suspects.oracles import entropy_bits
from tests.calc.suspects.simulated_books import BookPlan, search_outcome, simulated_book

SEEDS = range(200)


@pytest.fixture(scope="module")
def with_cause():
    return [search_outcome(simulated_book(seed)) for seed in SEEDS]


@pytest.fixture(scope="module")
def without_cause():
    return [search_outcome(simulated_book(seed, with_cause=False)) for seed in SEEDS]


@pytest.fixture(scope="module")
def ranks(with_cause):
    """Rank of the true cause where three or more judged spools hold it."""
    return np.array([found.cause_rank for found in with_cause if found.judged_with_cause >= 3])


def test_the_true_cause_is_first_or_among_the_first_three(ranks):
    assert len(ranks) > 60
    assert (ranks == 1).mean() >= 0.75
    assert (ranks <= 3).mean() >= 0.90


def test_the_search_is_as_good_as_knowing_the_chances(ranks):
    """Against an oracle that is told the true background and the true chance of spoiling."""
    oracle = []
    for seed in SEEDS:
        book, plan = simulated_book(seed), BookPlan()
        if book.judged_with_cause < 3:
            continue
        exposure = np.zeros((plan.spools, plan.collections))
        exposure[book.shares.spool, book.shares.candidate] = exposure_of_share(book.shares.share)
        bad = bad_chance(plan.background, [1.0], np.zeros((plan.spools, 1)))[:, None]
        bad = 1 - (1 - bad) * (1 - plan.spoil_chance * exposure)
        likelihood = np.where(book.bad[:, None], np.log(bad), np.log1p(-bad))[book.judged].sum(0)
        oracle.append(1 + (likelihood > likelihood[book.cause] + 1e-9).sum())
    oracle = np.array(oracle)
    assert len(oracle) == len(ranks)
    assert (ranks == 1).mean() >= (oracle == 1).mean() - 0.05
    assert (ranks <= 3).mean() >= (oracle <= 3).mean() - 0.05


def test_stated_posteriors_of_lines_hold(with_cause):
    stated = [true for found in with_cause for p, true in found.stated if 0.6 <= p <= 0.8]
    assert len(stated) >= 20
    assert 0.50 <= np.mean(stated) <= 0.97


def test_stated_posteriors_hold_where_half_of_the_books_have_a_cause(with_cause, without_cause):
    """The prior says one book in two; lines and "none of these" together, in two bands."""
    stated = [said for found in with_cause + without_cause for said in found.stated]
    stated += [(found.none_posterior, False) for found in with_cause]
    stated += [(found.none_posterior, True) for found in without_cause]
    p, true = (np.array(column) for column in zip(*stated, strict=True))
    middle = (p >= 0.6) & (p <= 0.8)
    assert middle.sum() >= 100
    assert 0.50 <= true[middle].mean() <= 0.97
    for low, high in ((0.0, 0.05), (0.05, 0.2), (0.2, 0.4), (0.4, 0.6), (0.8, 0.95)):
        band = (p >= low) & (p < high)
        room = 4 * np.sqrt(p[band].mean() * (1 - p[band].mean()) / band.sum()) + 0.05
        assert abs(true[band].mean() - p[band].mean()) <= room, (low, high)


def test_none_of_these_leads_where_there_is_no_cause(without_cause):
    assert np.mean([found.none_leads for found in without_cause]) >= 0.80


def test_with_verdicts_dealt_out_anew_the_cause_is_not_found():
    """The targets can be missed: it is the verdicts that lead to the cause."""
    ranks = []
    for seed in SEEDS:
        book = simulated_book(seed)
        book.bad[book.judged] = np.random.default_rng(seed).permutation(book.bad[book.judged])
        found = search_outcome(book)
        if found.judged_with_cause >= 3:
            ranks.append(found.cause_rank)
    assert np.mean(np.array(ranks) == 1) < 0.2
    assert np.mean(np.array(ranks) <= 3) < 0.5


def test_the_suggested_verdict_beats_a_random_one_in_expected_entropy(with_cause, without_cause):
    every = with_cause + without_cause
    best = np.mean([found.best_gain_bits for found in every])
    random = np.mean([found.mean_gain_bits for found in every])
    assert best > 2 * random > 0


def test_the_suggested_verdict_beats_a_random_one_once_it_is_given():
    """Not only as expected by the model: after the true verdict, with a cause in the book."""
    fall = []
    for seed in range(100):
        book, chance = simulated_book(seed), np.random.default_rng(seed)
        waiting = np.flatnonzero(~book.judged)
        before = weigh_suspects(book.shares, book.standing)
        suggested = waiting[next_verdicts(before, book.shares.of_spools(~book.judged))[0].spool]
        entropies = []
        for spool in (suggested, chance.choice(waiting)):
            standing = book.standing
            standing[spool] = int(book.bad[spool])
            entropies.append(entropy_bits(weigh_suspects(book.shares, standing)))
        fall.append(entropies[1] - entropies[0])
    assert np.mean(fall) > 3 * np.std(fall) / np.sqrt(len(fall))


def test_a_book_follows_its_plan():
    plan = BookPlan()
    book = simulated_book(12)
    parts = np.bincount(book.shares.spool)
    assert set(parts) <= {2, 3, 4, 5}
    assert np.bincount(book.shares.spool, weights=book.shares.share) == pytest.approx(1)
    assert (book.shares.candidates, len(parts), book.judged.sum()) == (40, 80, 25)
    place = book.shares.spool * plan.collections / plan.spools
    assert np.corrcoef(place, book.shares.candidate)[0, 1] > 0.95
    assert (simulated_book(12).bad == book.bad).all()
    bad = np.mean([simulated_book(seed, with_cause=False).bad.mean() for seed in SEEDS])
    assert bad == pytest.approx(plan.background, abs=0.006)


def test_impossible_plans_and_searches_are_refused():
    with pytest.raises(ValueError, match="stock"):
        simulated_book(1, plan=BookPlan(in_stock=4))
    for judged in (0, 80):
        with pytest.raises(ValueError, match="judged"):
            search_outcome(simulated_book(1, plan=BookPlan(judged=judged)))


def test_the_cause_leads_in_a_large_book_given_as_a_list_or_as_a_matrix():
    """How long this takes at 2,000 spools is measured by the benchmark."""
    matrix, bad, cause = large_book(spools=400, candidates=2_000)
    spool, candidate = np.nonzero(matrix)
    listed = listed_shares(spool, candidate, matrix[spool, candidate], *matrix.shape)
    for shares in (listed, dense_shares(matrix)):
        assert ranking(weigh_suspects(shares, bad.astype(int))).lines[0].members == (cause,)
