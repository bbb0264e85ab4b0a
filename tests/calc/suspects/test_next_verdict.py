"""The suggested next verdict against the entropy worked out by adding each verdict in turn."""

import numpy as np
import pytest

from recycling.calc.suspects.exposure import dense_shares
from recycling.calc.suspects.next_verdict import next_verdicts, verdict_gains
from recycling.calc.suspects.posterior import weigh_suspects
from tests.calc.suspects.oracles import entropy_bits


def small_book(seed):
    random = np.random.default_rng(seed)
    matrix = random.dirichlet(np.full(6, 0.4), size=14) * (random.random((14, 6)) < 0.7)
    matrix[:, 5] = matrix[:, 4]
    matrix[13, 5] = 0
    standing = random.integers(0, 2, 14)
    standing[9:] = -1
    return matrix, standing


@pytest.mark.parametrize("seed", range(4))
def test_the_gain_is_the_expected_fall_of_entropy(seed):
    matrix, standing = small_book(seed)
    shares = dense_shares(matrix)
    before = weigh_suspects(shares, standing)
    gain, bad_chance = verdict_gains(before, shares.of_spools(standing == -1))
    for place, spool in enumerate(np.flatnonzero(standing == -1)):
        after = []
        for verdict in (0, 1):
            asked = standing.copy()
            asked[spool] = verdict
            after.append(entropy_bits(weigh_suspects(shares, asked)))
        expected = (1 - bad_chance[place]) * after[0] + bad_chance[place] * after[1]
        assert gain[place] == pytest.approx(entropy_bits(before) - expected, abs=2e-4)


def test_a_verdict_can_split_a_line_that_the_judged_spools_cannot():
    matrix = [[0.5, 0.5, 0]] * 4 + [[0, 0, 1]] * 6 + [[1, 0, 0], [0.5, 0.5, 0], [0, 0, 1]]
    shares = dense_shares(matrix)
    standing = np.array([1] * 4 + [0] * 6 + [-1] * 3)
    found = weigh_suspects(shares, standing)
    suggested = next_verdicts(found, shares.of_spools(standing == -1))
    assert suggested[0].spool == 0
    assert suggested[0].gain_bits > 0.4
    assert 0.4 < suggested[0].bad_chance < 0.6


def test_a_spool_that_tells_nothing_is_not_suggested():
    shares = dense_shares([[1.0, 0.0]] * 3 + [[0.0, 0.0]])
    found = weigh_suspects(shares, [1, 0, 0, -1])
    nothing = dense_shares([[0.0, 0.0]])
    gain, bad_chance = verdict_gains(found, nothing)
    assert gain[0] < 0.05
    assert 0 < bad_chance[0] < 0.5
    assert next_verdicts(found, shares.of_spools([False] * 4)) == ()


def test_suggestions_come_best_first_and_no_more_than_asked_for():
    random = np.random.default_rng(5)
    shares = dense_shares(random.dirichlet(np.full(8, 0.3), size=30))
    found = weigh_suspects(shares, np.r_[random.integers(0, 2, 15), np.full(15, -1)])
    named = next_verdicts(found, shares.of_spools(np.arange(30) >= 15), limit=4)
    gains = [verdict.gain_bits for verdict in named]
    assert len(named) == 4
    assert gains == sorted(gains, reverse=True)


def test_entropy_before_any_verdict():
    found = weigh_suspects(dense_shares(np.eye(8)), np.full(8, -1))
    assert entropy_bits(found) == pytest.approx(1 + 0.5 * np.log2(8))


def test_unknown_shares_count_as_none():
    found = weigh_suspects(dense_shares([[1, 0]] * 4 + [[0, 1]] * 4), [1] * 4 + [0] * 4)
    unknown = verdict_gains(found, dense_shares([[np.nan, 0.3]]))
    none = verdict_gains(found, dense_shares([[0.0, 0.3]]))
    assert unknown[0] == pytest.approx(none[0])


def test_shares_of_other_candidates_are_refused():
    found = weigh_suspects(dense_shares([[1.0, 0.0]]), [1])
    with pytest.raises(ValueError, match="other candidates"):
        verdict_gains(found, dense_shares([[1.0]]))
