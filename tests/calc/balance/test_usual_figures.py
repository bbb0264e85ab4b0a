"""Likely slips: how many are found and how many honest figures are asked about, in other books.

The books of ``checks/weighed_outputs.json`` were made for this project by a separate program;
invented data. Those of ``slip_books`` are made up here, from other numbers of the same kind.
"""

from __future__ import annotations

import json
import sys
from functools import reduce
from operator import add
from pathlib import Path

import pytest

from recycling.calc.balance.usual_figures import kept_logs, likely_slips, past_of
from tests.slip_books import Made, Tried, Weighed, book, tried

BOOKS = Path(__file__).parents[2] / "checks" / "weighed_outputs.json"


def made(told: list) -> list[Made]:
    return [Made(stage, in_mg, tuple(Weighed(*one) for one in out)) for stage, in_mg, out in told]


def said(name: str, found: Tried) -> tuple[float, float]:
    caught, honest = found.found / found.planted, found.asked / found.runs
    sys.stdout.write(
        f"{name}: factor ten caught {caught:.1%} of {found.planted},"
        f" honest runs asked {honest:.1%} of {found.runs}\n"
    )
    return caught, honest


def test_in_books_of_a_separate_program():
    books = json.loads(BOOKS.read_text())["books"]
    caught, honest = said("given books", reduce(add, (tried(iter(made(one))) for one in books)))
    assert caught >= 0.9 and honest <= 0.03


@pytest.mark.slow
def test_in_other_books():
    caught, honest = said("other books", reduce(add, (tried(book(seed)) for seed in range(10))))
    assert caught >= 0.9 and honest <= 0.03


def test_two_usual_sizes_are_both_usual():
    spools = kept_logs([1e6, 1.01e6, 0.99e6, 3e5, 1e6, 1.02e6, 2.6e5, 1e6, 9.9e5, 2.9e5])
    assert likely_slips(2.8e5, spools) == [] and likely_slips(1.005e6, spools) == []
    assert [round(one.value) for one in likely_slips(1e5, spools)][:1] == [1_000_000]


def test_a_share_is_taken_where_it_scatters_less_than_the_mass():
    pairs = [(0.9 * mass, mass) for mass in (1e6, 2e6, 5e6, 9e6, 3e6)]
    logs, shares = past_of(pairs)
    assert shares and set(logs) == {-0.11}
    assert past_of([(1e6, 2e6), (1e6, 5e6), (1e6, 3e6), (1e6, 9e6)])[1] is False


def test_nothing_is_asked_before_four_are_known():
    assert likely_slips(12.4, kept_logs([1.2, 1.3, 1.1])) == []
    with pytest.raises(ValueError, match="above zero"):
        likely_slips(12.4, kept_logs([1.2, 1.3, 1.1, 1.2]), of=0)
