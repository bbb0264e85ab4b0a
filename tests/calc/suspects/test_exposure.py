"""Shares, the exposure curve and what cannot be told apart."""

import numpy as np
import pytest

from recycling.calc.suspects.exposure import (
    Shares,
    alike,
    dense_shares,
    exposure_of_share,
    listed_shares,
)


def test_a_full_matrix_and_a_list_hold_the_same_shares():
    from scipy.sparse import random_array

    sparse = random_array((30, 20), density=0.2, rng=np.random.default_rng(2), format="coo")
    dense = dense_shares(sparse.toarray())
    listed = listed_shares(*sparse.coords, sparse.data, *sparse.shape)
    rebuilt = np.zeros(sparse.shape)
    rebuilt[dense.spool, dense.candidate] = dense.share
    assert (rebuilt == sparse.toarray()).all()
    assert sorted(zip(listed.spool, listed.candidate, listed.share, strict=True)) == sorted(
        zip(dense.spool, dense.candidate, dense.share, strict=True)
    )


def test_chosen_spools_are_renumbered():
    matrix = np.array([[0.1, 0.9], [1.0, 0.0], [0.3, 0.7]])
    chosen = dense_shares(matrix).of_spools([True, False, True])
    assert (chosen.spools, chosen.candidates) == (2, 2)
    assert chosen.spool.tolist() == [0, 0, 1, 1]
    assert chosen.share.tolist() == [0.1, 0.9, 0.3, 0.7]


def test_an_unknown_share_is_kept_as_unknown():
    assert np.isnan(dense_shares([[np.nan, 0.0]]).share).tolist() == [True]


def test_the_curve_is_in_proportion_up_to_the_full_share():
    assert exposure_of_share([0, 0.1, 0.2, 0.21, 1]).tolist() == [0, 0.5, 1, 1, 1]
    assert exposure_of_share([0.25], full_share=0.5, power=2).tolist() == [0.25]


def test_columns_equal_in_every_row_share_a_line_in_the_order_of_their_first():
    matrix = np.array(
        [
            [0.0, 0.5, 0.2, 0.5, 0.0, np.nan, np.nan],
            [0.0, 0.1, 0.0, 0.1, 0.3, 0.0, 0.0],
        ]
    )
    shares = dense_shares(matrix)
    line, first = alike(shares.spool, shares.candidate, shares.share, 7)
    assert line.tolist() == [0, 1, 2, 1, 3, 4, 4]
    assert first.tolist() == [0, 1, 2, 4, 5]


def test_alike_agrees_with_comparing_columns_one_by_one():
    random = np.random.default_rng(8)
    matrix = random.integers(0, 3, size=(4, 300)) / 2
    shares = dense_shares(matrix)
    line, first = alike(shares.spool, shares.candidate, shares.share, 300)
    kinds = {tuple(column) for column in matrix.T}
    assert len(first) == len(kinds) > 50
    assert (matrix[:, first[line]] == matrix).all()


def test_a_difference_below_the_step_does_not_tell_columns_apart():
    matrix = [[0.5, 0.50001, 0.502]]
    shares = dense_shares(matrix)
    assert alike(shares.spool, shares.candidate, shares.share, 3)[0].tolist() == [0, 0, 1]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: dense_shares([0.1]), "matrix"),
        (lambda: dense_shares([[1.1]]), "between 0 and 1"),
        (lambda: dense_shares([[-0.1]]), "between 0 and 1"),
        (lambda: listed_shares([0, 0], [1, 1], [0.1, 0.2], 1, 2), "twice"),
        (lambda: listed_shares([0], [2], [0.1], 1, 2), "not there"),
        (lambda: listed_shares([-1], [0], [0.1], 1, 2), "counted from 0"),
        (lambda: listed_shares([0], [0, 1], [0.1], 1, 2), "same number"),
        (lambda: dense_shares([[0.5]]).of_spools([True, True]), "one mark"),
        (lambda: exposure_of_share(0.1, full_share=0), "full_share"),
        (lambda: exposure_of_share(0.1, power=0), "power"),
    ],
)
def test_bad_shares_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_no_entries_are_no_error():
    none = np.zeros(0, dtype=int)
    shares = Shares(none, none, np.zeros(0), 3, 2)
    assert alike(shares.spool, shares.candidate, shares.share, 2)[0].tolist() == [0, 0]
    assert dense_shares(np.zeros((3, 0))).candidates == 0
