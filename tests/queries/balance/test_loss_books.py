"""Books of weighings told through the services: what the run's page says of each.

`loss_books.json` was made for this project by a separate program; invented data.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from recycling.calc.balance.loss_figures import NAMED
from recycling.calc.balance.slip_changes import LEFT_OUT
from recycling.queries.balance.closures import NOT_WITHIN, closures
from recycling.queries.runs.runs import run_page
from tests.checks import checked
from tests.factories import START
from tests.loss_books import Told, workshop_for

pytestmark = pytest.mark.django_db
FLAGGED = ("to look at", "open")
LONG = (START - timedelta(days=1), START + timedelta(days=400))


def book(seed: int) -> dict[str, Any]:
    (found,) = [one for one in checked("loss_books")["books"] if one["seed"] == seed]
    return found


def told_to(book: dict[str, Any], last: int) -> Told:
    """Tell a book up to a run."""
    told = workshop_for(book)
    for at, _code in told.tell(book):
        if at >= last:
            break
    return told


def closure_at(told: Told, book: dict[str, Any], at: int) -> Any:
    return run_page(told.actor, told.runs[book["runs"][at]["key"]]).closure


def right(book: dict[str, Any], told: Told, closure: Any) -> bool:
    """Whether the first line is the planted slip: its kind and its figure."""
    truth, first = book["truth"], closure.slips[0]
    run = book["runs"][truth["run"]]
    if truth["kind"] == "not entered":
        return first.kind == LEFT_OUT
    figures = [one for one in run["figures"] if one[0] == truth["figure"]]
    shown = run_page(told.actor, told.runs[run["key"]]).figures
    lot = told.lots.get(figures[0][2]) if figures else None
    named = {one.posting for one in shown if one.lot == lot and one.side == figures[0][1]}
    same = truth["kind"] == "weigh-in" or NAMED[truth["kind"]] == first.kind
    return same and bool(named & set(first.postings))


def test_a_weigh_in_is_named_where_its_bag_was_sorted():
    nine = book(9)
    truth = nine["truth"]
    told = told_to(nine, truth["seen_run"])
    closure = closure_at(told, nine, truth["seen_run"])
    assert closure.state == "open"
    assert right(nine, told, closure)
    first = closure.slips[0]
    assert first.run == told.runs[nine["runs"][truth["run"]]["key"]]
    assert closure.to_correct[0].run == first.run
    listed = closures(told.actor, *LONG, state=NOT_WITHIN)
    assert told.runs[nine["runs"][truth["seen_run"]]["key"]] in {one.run for one in listed.rows}


@pytest.mark.slow
def test_a_book_of_each_kind_told_through_the_services():
    """Every planted slip is found, most named first; honest runs are left alone."""
    honest, found, planted, first = [], 0, 0, 0
    for one in checked("loss_books")["books"][10:]:
        truth = one["truth"]
        told = told_to(one, truth.get("seen_run", 999))
        before = {told.runs.get(run["key"]) for run in one["runs"][: truth.get("run", 999)]}
        rows = closures(told.actor, *LONG, limit=100).rows
        honest += [row for row in rows if row.run in before]
        if truth["kind"] == "honest":
            continue
        closure = closure_at(told, one, truth["seen_run"])
        assert closure.state in FLAGGED, truth
        if truth["kind"] == "real loss":
            assert not closure.named
        else:
            planted, found = planted + 1, found + (closure.state in FLAGGED)
            first += right(one, told, closure)
    assert planted == found == 8
    assert first >= 6
    assert len(honest) > 200
    assert sum(row.state in FLAGGED for row in honest) <= 0.05 * len(honest)
    assert sum(row.named for row in honest) <= 0.01 * len(honest)
