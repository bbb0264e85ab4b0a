"""The posterior over one cause or none: a published outbreak, and hand-made books."""

import csv

import numpy as np
import pytest

from recycling.calc.suspects.exposure import dense_shares, listed_shares
from recycling.calc.suspects.posterior import weigh_suspects
from recycling.calc.suspects.priors import SuspectPriors
from recycling.calc.suspects.ranking import ranking
from tests.calc.suspects.oracles import two_by_two
from tests.checked import check_text


@pytest.fixture(scope="module")
def oswego():
    """Foods, whether each person ate them (NaN where missing), and who fell ill."""
    rows = list(csv.reader(check_text("oswego.csv").splitlines()))
    ate = [[{"Y": 1.0, "N": 0.0}.get(cell, np.nan) for cell in row[7:]] for row in rows[1:]]
    return rows[0][7:], np.array(ate), np.array([int(row[4] == "Y") for row in rows[1:]])


def test_oswego_tables_are_the_published_ones(oswego, independent_check):
    # US Centers for Disease Control and Prevention, EIS case study 401-303: 75 people, 46 ill.
    foods, ate, ill = oswego
    expected = independent_check(1)["expected"]
    suspicion = weigh_suspects(dense_shares(ate), ill)
    vanilla = suspicion.line_of[foods.index("Van ice cream")]
    assert (len(ill), ill.sum(), len(foods)) == (75, 46, 14)
    assert suspicion.tables[vanilla].tolist() == sum(expected["table"], [])
    assert suspicion.odds_ratio[vanilla] == pytest.approx(expected["odds_ratio"])
    assert suspicion.p_value[vanilla] == pytest.approx(expected["fisher"], rel=1e-9)
    assert suspicion.adjusted[vanilla] == pytest.approx(expected["bh"], rel=1e-9)
    assert (suspicion.adjusted < 0.05).sum() == expected["n_q_below_05"]
    assert (suspicion.tables[suspicion.line_of] == two_by_two(ate, ill)).all()


def test_oswego_puts_vanilla_ice_cream_first(oswego):
    foods, ate, ill = oswego
    found = ranking(weigh_suspects(dense_shares(ate), ill))
    assert [foods[member] for member in found.lines[0].members] == ["Van ice cream"]
    assert found.lines[0].posterior > 0.9
    assert found.state == "suspect"
    assert found.lines[0].adjusted_p_value < 0.05 < found.lines[1].adjusted_p_value


def test_shuffled_oswego_seldom_names_a_suspect(oswego):
    """With the meals dealt out anew, 46 of 75 are still ill, but nothing they ate explains it."""
    foods, ate, ill = oswego
    states = []
    for seed in range(100):
        dealt = ate[np.random.default_rng(seed).permutation(len(ate))]
        states.append(ranking(weigh_suspects(dense_shares(dealt), ill)).state)
    assert states.count("none_leads") >= 70
    assert states.count("suspect") <= 15


def test_posterior_is_bayes_rule_over_the_factors():
    random = np.random.default_rng(1)
    shares = random.dirichlet(np.full(6, 0.3), size=20)
    weights = np.arange(1.0, 7.0)
    priors = SuspectPriors(cause_probability=0.3)
    found = weigh_suspects(dense_shares(shares), random.integers(0, 2, 20), priors, weights)
    belief = 0.3 * weights / weights.sum() * np.exp(found.evidence.log_factor[found.line_of])
    total = belief.sum() + 0.7
    assert found.posterior[found.line_of] == pytest.approx(belief / total)
    assert found.none_posterior == pytest.approx(0.7 / total)


def test_candidates_with_equal_exposures_form_one_line_with_their_joint_chance():
    apart = dense_shares([[1, 0]] * 4 + [[0, 1]] * 6)
    together = dense_shares([[1, 0, 1, 1]] * 4 + [[0, 1, 0, 0]] * 6)
    verdicts = [1] * 4 + [0] * 6
    found = ranking(weigh_suspects(together, verdicts))
    assert found.lines[0].members == (0, 2, 3)
    assert found.lines_in_all == 2
    alone = ranking(weigh_suspects(apart, verdicts, weights=[3, 1]))
    assert found.lines[0].posterior == pytest.approx(alone.lines[0].posterior)


def test_missing_verdicts_are_left_out_and_not_counted_as_good():
    shares = dense_shares([[1, 0]] * 4 + [[0, 1]] * 6 + [[1, 0]] * 5 + [[0, 1]] * 2)
    unasked = weigh_suspects(shares, [1] * 4 + [0] * 6 + [-1] * 5 + [2] * 2)
    judged = weigh_suspects(shares.of_spools([True] * 10 + [False] * 7), [1] * 4 + [0] * 6)
    assert unasked.posterior == pytest.approx(judged.posterior)
    assert unasked.tables.tolist() == judged.tables.tolist()
    assert (unasked.not_judged, unasked.contradictory) == (5, 2)


def test_more_of_the_cause_in_bad_spools_raises_suspicion_and_in_good_ones_lowers_it():
    def posterior(share, verdict):
        matrix = [[0.3, 0.7], [0.3, 0.7], [0, 1], [0, 1], [0, 1], [share, 1 - share]]
        return weigh_suspects(dense_shares(matrix), [1, 0, 0, 0, 1, verdict]).posterior[0]

    assert posterior(0.02, 1) < posterior(0.1, 1) < posterior(0.2, 1)
    assert posterior(0.02, 0) > posterior(0.1, 0) > posterior(0.2, 0)
    assert posterior(0.2, 1) == pytest.approx(posterior(0.6, 1))


def test_an_unknown_exposure_counts_as_the_mean_and_stays_out_of_the_table():
    known = [[1.0, 0], [1.0, 0], [0, 1], [0, 1], [0.4, 0.6]]
    unknown = [*known[:4], [np.nan, 0.6]]
    verdicts = [1, 1, 0, 0, 1]
    priors = SuspectPriors(full_share=1.0)
    found = weigh_suspects(dense_shares(unknown), verdicts, priors)
    assert found.tables[0].tolist() == [2, 0, 0, 2]
    at_mean = dense_shares([*known[:4], [0.5, 0.6]])
    assert found.posterior == pytest.approx(weigh_suspects(at_mean, verdicts, priors).posterior)


def test_traces_count_in_what_a_line_rests_on_but_not_as_exposed():
    found = weigh_suspects(dense_shares([[0.005, 0.995], [0, 1], [0.5, 0.5]]), [1, 0, 1])
    assert found.tables[0].tolist() == [1, 0, 1, 1]
    assert found.touched[0].tolist() == [2, 0]


def test_a_list_of_entries_and_a_full_matrix_give_the_same():
    random = np.random.default_rng(6)
    matrix = random.random((40, 30)) * (random.random((40, 30)) < 0.2)
    verdicts = random.integers(-1, 2, 40)
    spool, candidate = np.nonzero(matrix.T)[::-1]
    listed = listed_shares(spool, candidate, matrix[spool, candidate], 40, 30)
    one, other = weigh_suspects(dense_shares(matrix), verdicts), weigh_suspects(listed, verdicts)
    assert one.posterior == pytest.approx(other.posterior)
    assert (one.tables == other.tables).all()


def test_changing_a_prior_changes_the_result():
    shares, verdicts = dense_shares([[0.1, 0.9]] * 3 + [[0, 1]] * 6), [1, 1, 0] + [0] * 6
    usual = weigh_suspects(shares, verdicts)
    for change in (
        {"cause_probability": 0.1},
        {"background_beta": 40.0},
        {"spoil_beta": 5.0},
        {"full_share": 0.8},
        {"curve_power": 3.0},
    ):
        other = weigh_suspects(shares, verdicts, SuspectPriors(**change))
        assert abs(other.posterior[0] - usual.posterior[0]) > 0.01, change


def test_posteriors_add_up_to_one():
    random = np.random.default_rng(9)
    matrix = random.random((300, 500)) * (random.random((300, 500)) < 0.05)
    found = weigh_suspects(dense_shares(matrix), random.integers(0, 2, 300))
    assert found.posterior.sum() + found.none_posterior == pytest.approx(1)
    assert np.bincount(found.line_of, weights=found.weight) == pytest.approx(1)


def test_arguments_that_do_not_fit_are_refused():
    shares = dense_shares([[1.0, 0.0]])
    with pytest.raises(ValueError, match="standing"):
        weigh_suspects(shares, [1, 0])
    for weights in ([1.0], [1.0, 0.0], [1.0, float("nan")]):
        with pytest.raises(ValueError, match="weights"):
            weigh_suspects(shares, [1], weights=weights)
