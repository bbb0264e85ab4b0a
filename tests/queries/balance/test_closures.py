"""How sure figures are and how runs close, read from a told book."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from recycling.models import Weighing
from recycling.queries.balance.closures import NOT_WITHIN, closures
from recycling.queries.runs.runs import run_page, runs_page
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, WeighingEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record
from shared.errors import Refused
from tests.factories import START, ContainerFactory, G, ScaleFactory
from tests.histories import tell

LONG = (START - timedelta(days=1), START + timedelta(days=400))


def shop(text="C1: flake PET 5kg, 5kg"):
    told = tell("")
    ScaleFactory(actor=told.actor, name="bench", interval_mg=1 * G)
    ContainerFactory(actor=told.actor, name="blue crate", tare_mg=1_200 * G)
    return told.tell(text)


def shredded(told, drawn, out, **weighing):
    told._machine("oven", "dryer")
    at = told.now + timedelta(hours=1)
    entry = RunEntry(
        "dry",
        at,
        at + timedelta(hours=1),
        machine="oven",
        inputs=(DrawEntry(told.code("C1.1"), drawn),),
        outputs=(OutputEntry("dried flake", out, weighing=WeighingEntry(**weighing)),),
    )
    return run_record(told.actor, entry)


@pytest.mark.django_db
def test_state_direction_and_uncertainty_of_a_run():
    told = shop("C1: flake PET 5kg, 5kg\nR1 dry C1.1 1kg -> dried flake 999g")
    closure = run_page(told.actor, told.code("R1")).closure
    # one scale for both: its error cancels, the two roundings stay (GUM F.1.2.3)
    assert closure.u_mg == pytest.approx(math.sqrt(2) * 1 * G / math.sqrt(12))
    assert (closure.state, closure.direction) == ("to look at", "loss")
    (row,) = runs_page(told.actor, stage="dry").rows
    assert (row.closes, row.u_unaccounted_mg) == (closure.state, pytest.approx(closure.u_mg))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("out", "state", "direction"),
    [("1000g", 0, "even"), ("1001g", 1, "gain"), ("999g", 1, "loss"), ("998g", 2, "loss")],
)
def test_states_by_size(out, state, direction):
    told = shop(f"C1: flake PET 5kg, 5kg\nR1 dry C1.1 1kg -> dried flake {out}")
    closure = run_page(told.actor, told.code("R1")).closure
    assert closure.state == ("closed within weighing", "to look at", "open")[state]
    assert closure.direction == direction


@pytest.mark.django_db
def test_the_worst_come_first_and_pages_follow_on():
    told = shop()
    for name, out in (("R1", 950), ("R2", 1000), ("R3", 600), ("R4", 999)):
        told.tell(f"{name} dry C1.1 1kg -> dried flake {out}g")
    found = closures(told.actor, *LONG, limit=2)
    assert [one.run for one in found.rows] == [told.code("R3"), told.code("R1")]
    assert (found.within, found.to_look_at, found.open) == (1, 1, 2)
    rest = closures(told.actor, *LONG, after=found.next, limit=2)
    assert [one.run for one in rest.rows] == [told.code("R4"), told.code("R2")]
    assert rest.next == ""
    doubtful = closures(told.actor, *LONG, state=NOT_WITHIN)
    assert len(doubtful.rows) == 3
    with pytest.raises(Refused):
        closures(told.actor, LONG[1], LONG[0])


@pytest.mark.django_db
def test_a_forgotten_tare_leads_to_its_posting():
    told = shop("C1: flake PET 5kg, 5kg\nR1 dry C1.1 2kg -> dried flake 3200g")
    closure = run_page(told.actor, told.code("R1")).closure
    slip = closure.slips[0]
    assert slip.kind == "tare forgotten"
    assert slip.postings == (told.posting("R1", lot="R1.1"),)
    assert closure.to_correct[0].posting == slip.postings[0]
    told.tell("correct R1 gave R1.1 2000g")
    assert run_page(told.actor, told.code("R1")).closure.direction == "even"


@pytest.mark.django_db
def test_a_lot_that_is_taken_whole_carries_its_own_uncertainty():
    told = shop("C1: flake PET 1kg\nR1 dry C1.1 400g -> dried flake 400g")
    told.tell("R2 dry C1.1 all -> dried flake 600g")
    # 1 kg at two steps of the limit less 400 g at one, on one scale, and two roundings
    left = math.hypot((2 - 1) * G / math.sqrt(3), math.sqrt(2) * G / math.sqrt(12))
    (drawn,) = [one for one in run_page(told.actor, told.code("R2")).figures if one.side == "in"]
    assert (drawn.how, drawn.basis) == ("by book", "lot")
    assert drawn.u_mg == pytest.approx(left)


@pytest.mark.django_db
def test_what_was_read_is_kept_and_doubted_at_once():
    told = shop()
    done = shredded(told, 1_000_000, 12_500, scale="bench", gross_mg=12_500, raw="  +0012.5 g ST")
    assert any("smallest load" in doubt for doubt in done.doubts)
    assert any("steps of 1 g" in doubt for doubt in done.doubts)
    figure = run_page(told.actor, done.code).figures[-1]
    assert (figure.raw, figure.scale) == ("  +0012.5 g ST", "bench")
    assert {doubt.code for doubt in figure.doubts} == {"below_minimum_load", "between_steps"}
    assert Weighing.objects.filter(raw__contains="0012.5").count() == 1


@pytest.mark.django_db
def test_a_stated_uncertainty_counts_and_a_nonsense_one_is_refused():
    told = shop()
    done = shredded(told, 1_000_000, 900_000, how="estimated", u_mg=90_000)
    closure = run_page(told.actor, done.code).closure
    assert closure.u_mg == pytest.approx(90_000, rel=1e-3)
    assert closure.state == "closed within weighing"
    for wrong in ({"u_mg": -1}, {"sample": "none of ours"}, {"raw": "x" * 121}):
        with pytest.raises(Refused):
            shredded(told, 1_000_000, 900_000, **wrong)


@pytest.mark.django_db
def test_open_void_and_border_runs_have_no_closure():
    told = shop("C1: flake PET 5kg, 5kg\nR1 dry C1.1 1kg -> dried flake 900g\nvoid R1")
    told.tell("open R2 dry C1.1 1kg\nR3 dispatch C1.2 1kg\ncount R4: C1.2 3990g")
    for name in ("R1", "R2", "R3", "R4", "C1.run"):
        assert run_page(told.actor, told.code(name)).closure is None
    assert closures(told.actor, *LONG).rows == ()
