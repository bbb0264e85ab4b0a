"""Honest runs and planted slips: the twenty books made apart, and invented ones of our own.

`loss_books.json` was made for this project by a separate program; invented data. The bounds are
those asked of many books; twenty are few, so that the bounds here allow for chance. The whole count
is ``manage.py usual_losses``.
"""

import pytest

from recycling.calc.balance.loss_figures import count, tally, told
from recycling.calc.balance.loss_simulation import KINDS, invented
from tests.checks import checked


@pytest.fixture(scope="module")
def judged():
    return tally(checked("loss_books")["books"])


def test_every_planted_slip_of_the_books_is_found(judged):
    assert judged.slips("books") == 1.0
    assert sum(one["books"] for one in judged.planted.values()) == 18
    assert judged.slips("found") == 1.0
    assert judged.losses("found") == 1.0


def test_the_right_line_comes_first(judged):
    assert judged.slips("first") >= 0.80


def test_honest_runs_are_left_alone(judged):
    assert judged.honest["runs"] > 400
    assert judged.share("flagged") <= 0.05
    assert judged.worst_book <= 0.10
    assert judged.share("accused") <= 0.01


def test_a_real_loss_is_not_called_a_slip(judged):
    assert judged.losses("named") == 0


def test_a_book_is_the_same_each_time_and_every_lot_in_it_was_made_before():
    for kind in KINDS:
        book = invented(3, kind, 30)
        assert book == invented(3, kind, 30)
        made = set()
        for run in book["runs"]:
            drawn = {figure[2] for figure in run["figures"] if figure[1] == "in"}
            assert drawn <= made
            made |= {figure[2] for figure in run["figures"] if figure[1] == "out"}
        assert len(list(told(book))) == 30


@pytest.mark.slow
def test_invented_books_of_our_own():
    found = tally(
        book
        for kind in KINDS
        for seed in range(7_000, 7_012)
        if "seen_run" in (book := invented(seed, kind, 50))["truth"] or kind == "honest"
    )
    assert found.share("flagged") <= 0.05
    assert found.share("accused") <= 0.01
    assert found.slips("found") >= 0.95
    assert found.slips("first") >= 0.80
    assert found.losses("named") <= 0.10


def test_a_book_without_anything_planted_counts_nothing():
    book = invented(5, "honest", 30)
    found = tally([])
    count(found, book)
    assert not found.planted
