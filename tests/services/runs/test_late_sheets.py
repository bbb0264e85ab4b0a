"""Sheets in any order: heels are chained by the time of the runs, not by when they were entered.

``LATE_ORDERS`` sets how many orders of six sheets are told and compared with the right one.
"""

from __future__ import annotations

import itertools
import os
import random

import pytest

from recycling.models import Run, Weighing
from recycling.queries.integrity.audit import audit
from recycling.services.runs.undo import run_undo
from recycling.services.runs.void import run_void
from tests.histories import Told, tell
from tests.services.refusing import refused
from tests.services.runs.test_flow import book_of

pytestmark = pytest.mark.django_db
ORDERS = int(os.environ.get("LATE_ORDERS", "5"))
START = "P1: dried flake PET 40kg\nO1: heel PET 70g in extruder"
SHEETS = [
    "R1 extrude P1.1 1kg -> filament 900g spool, heel 60g @10",
    "R2 extrude P1.1 2kg -> filament 1.8kg spool, heel 80g @20",
    "R3 extrude P1.1 1.5kg -> filament 1.4kg spool @30",  # nobody noted a heel
    "R4 extrude P1.1 1.2kg -> filament 1.1kg spool, heel 55g @40",
    "R5 extrude P1.1 0.9kg -> filament 800g spool, heel 60g @50",
    "R6 extrude P1.1 3kg -> filament 2.7kg spool, offcuts 100g, heel 75g @60",
]


def told_in(order: list[str]) -> Told:
    return tell("\n".join([START, *order]))


def test_any_order_of_sheets_gives_the_same_book(db):
    right = book_of(told_in(SHEETS))
    orders = list(itertools.permutations(SHEETS))
    for order in random.Random(5).sample(orders, ORDERS):
        told = told_in(list(order))
        assert book_of(told) == right, order
        assert audit(told.actor.workshop_id) == []


def test_a_late_sheet_takes_in_the_heel_of_its_time(db):
    told = told_in([SHEETS[0], SHEETS[3]])
    assert told.run("R4").draws.get(lot__form="heel").lot.code == told.code("R1.heel")
    told.tell(SHEETS[1])
    heels = {
        name: told.run(name).draws.get(lot__form="heel", mass_mg__gt=0).lot.code
        for name in ("R1", "R2", "R4")
    }
    assert heels == {
        "R1": told.code("O1.1"),
        "R2": told.code("R1.heel"),
        "R4": told.code("R2.heel"),
    }
    assert told.on_hand("R1.heel") == told.on_hand("R2.heel") == 0
    assert told.on_hand("R4.heel") == 55_000
    taken = Weighing.objects.filter(posting__account_id=told.lot("R2.heel").pk, how="by book")
    assert taken.count() == 1


def test_a_late_sheet_before_a_run_that_goes_on(db):
    told = told_in([SHEETS[0], "open R9 extrude P1.1 1kg @70"])
    told.tell(SHEETS[2].replace("spool @", "spool, heel 50g @"))
    assert told.run("R9").draws.get(lot__form="heel", mass_mg__gt=0).mass_mg == 50_000
    told.tell("close R9 -> filament 900g spool, heel 40g @80")
    assert audit(told.actor.workshop_id) == []


def test_two_runs_in_one_barrel_at_once_are_refused(db):
    told = told_in([SHEETS[0]])
    run = told.run("R1")
    Run.objects.filter(pk=run.pk).update(started_at=run.started_at.replace(hour=9))
    told.hour = 0.0
    with refused("machine-busy", pointer="/ended_at", says=run.code):
        told.tell("R2 extrude P1.1 1kg -> filament 900g spool, heel 60g @9")


def test_before_its_first_heel_was_counted_a_machine_leaves_none(db):
    told = tell("P1: dried flake PET 40kg @0\nO1: heel PET 70g in extruder @15\n" + SHEETS[1])
    with refused("heel-wrong", pointer="/heel"):
        told.tell(SHEETS[0])
    told.tell("R8 extrude P1.1 1kg -> filament 900g spool @10")
    assert told.run("R2").draws.get(lot__form="heel").lot.code == told.code("O1.1")
    assert audit(told.actor.workshop_id) == []


@pytest.mark.parametrize("gone", range(6))
def test_a_run_taken_back_closes_the_chain_again(db, gone):
    """A book without a run is the book in which it was voided, at whatever place."""
    without = told_in([one for place, one in enumerate(SHEETS) if place != gone])
    told = told_in(SHEETS)
    run_void(told.actor, told.code(f"R{gone + 1}"), "never was")
    left, right = book_of(told), book_of(without)
    assert left["borders"] == right["borders"]
    assert left["draws"] == right["draws"]
    for name, masses in right["lots"].items():
        assert left["lots"][name] == masses, name
        assert left["shares"][name] == right["shares"][name], name
    assert audit(told.actor.workshop_id) == []


def test_a_late_sheet_is_undone(db):
    told = told_in([SHEETS[0], SHEETS[3]])
    before = book_of(told)
    told.tell(SHEETS[1])
    run_undo(told.actor, told.code("R2"))
    after = book_of(told)
    assert after["borders"] == before["borders"] and after["draws"] == before["draws"]
    assert audit(told.actor.workshop_id) == []
