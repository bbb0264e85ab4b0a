"""The plain tables against scipy and the published examples."""

import numpy as np
import pytest

from recycling.calc.suspects.evidence_tables import benjamini_hochberg, fisher_exact, odds_ratio
from tests.calc.suspects.oracles import two_by_two


def scipy_p_values(tables):
    from scipy.stats import fisher_exact as scipy_fisher_exact

    return [scipy_fisher_exact(np.reshape(table, (2, 2))).pvalue for table in tables]


def test_fisher_equals_scipy_on_tables_of_all_sizes():
    random = np.random.default_rng(11)
    tables = np.concatenate(
        [random.integers(0, top, size=(60, 4)) for top in (2, 5, 20, 100, 1000)]
    )
    assert fisher_exact(tables) == pytest.approx(scipy_p_values(tables), rel=1e-8)


def test_fisher_counts_tables_that_are_equally_likely():
    tables = [[3, 1, 1, 3], [10, 10, 10, 10], [0, 5, 5, 0], [2, 7, 7, 2], [1, 4, 4, 1]]
    assert fisher_exact(tables) == pytest.approx(scipy_p_values(tables), rel=1e-10)


def test_fisher_of_the_lady_tasting_tea():
    # Fisher, R. A. (1935), The Design of Experiments, chapter II: 3 of 4 cups right is 17 of 70
    # in one tail, 34 of 70 in both.
    assert fisher_exact([[3, 1, 1, 3]])[0] == pytest.approx(34 / 70)


def test_fisher_of_empty_margins_is_one():
    assert fisher_exact([[0, 0, 4, 9], [0, 0, 0, 0], [5, 3, 0, 0]]).tolist() == [1, 1, 1]
    assert fisher_exact(np.zeros((0, 4), dtype=int)).tolist() == []


def test_fisher_works_through_many_wide_tables_in_blocks(monkeypatch):
    random = np.random.default_rng(5)
    tables = random.integers(0, 40, size=(300, 4))
    whole = fisher_exact(tables)
    monkeypatch.setattr("recycling.calc.suspects.evidence_tables.TABLE_BLOCK", 100)
    assert fisher_exact(tables) == pytest.approx(whole, rel=1e-12)


def test_odds_ratio_says_where_there_is_none():
    ratios = odds_ratio([[43, 11, 3, 18], [4, 0, 0, 6], [0, 0, 3, 4], [0, 5, 2, 1]])
    assert ratios[0] == pytest.approx(43 * 18 / (11 * 3))
    assert np.isinf(ratios[1])
    assert np.isnan(ratios[2])
    assert ratios[3] == 0


def test_benjamini_hochberg_rejects_four_of_the_fifteen_published_values(independent_check):
    # Benjamini, Y. and Hochberg, Y. (1995), section 3.2.
    check = independent_check(11)
    p_values = np.array(check["inputs"])
    assert (benjamini_hochberg(p_values) <= 0.05).sum() == check["expected"]["rejected"]
    assert (p_values <= 0.05 / len(p_values)).sum() == check["expected"]["bonferroni"]


def test_benjamini_hochberg_equals_scipy():
    from scipy.stats import false_discovery_control

    p_values = np.random.default_rng(3).random(200) ** 3
    assert benjamini_hochberg(p_values) == pytest.approx(false_discovery_control(p_values))
    assert benjamini_hochberg([]).tolist() == []


def test_two_by_two_leaves_out_what_is_not_known():
    exposed = [[1, np.nan], [0, 1], [1, 0], [0, np.nan]]
    assert two_by_two(exposed, [1, 1, 0, 0]).tolist() == [[1, 1, 1, 1], [1, 0, 0, 1]]


@pytest.mark.parametrize(
    "call",
    [
        lambda: fisher_exact([[1, 2, 3]]),
        lambda: fisher_exact([[1, 2, 3, -1]]),
        lambda: odds_ratio([[1, 2, 3, 0.5]]),
        lambda: benjamini_hochberg([0.5, 1.2]),
        lambda: benjamini_hochberg([0.5, float("nan")]),
        lambda: two_by_two([[0.5]], [True]),
        lambda: two_by_two([[1], [0]], [True]),
    ],
)
def test_bad_tables_are_refused(call):
    with pytest.raises(ValueError, match="table|counts|p-values|exposed"):
        call()
