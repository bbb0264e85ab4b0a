"""How sure figures are and how runs close, read from a told book."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from recycling.models import Weighing
from recycling.queries.balance.closures import NOT_WITHIN, closures
from recycling.queries.runs.runs import run_page, runs_page
from recycling.records.lots.mass_entries import DrawEntry, LossEntry, OutputEntry, WeighingEntry
from recycling.records.runs.entries import CorrectionEntry, RunEntry
from recycling.records.setup.practice import PracticeEntry
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.run_record import run_record
from recycling.services.setup.practice import practice_set
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
    assert (closure.state, closure.direction) == ("usual", "loss")
    assert closure.sentence == (
        "1 g unaccounted of 1.000 kg."
        " Up to 40 g is usual by a first setting (default, not checked)."
    )
    (row,) = runs_page(told.actor, stage="dry").rows
    assert (row.closes, row.u_unaccounted_mg) == (closure.state, pytest.approx(closure.u_mg))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("out", "state", "direction"),
    [("1000g", 0, "even"), ("1002g", 2, "gain"), ("999g", 1, "loss"), ("800g", 2, "loss")],
)
def test_states_by_size(out, state, direction):
    told = shop(f"C1: flake PET 5kg, 5kg\nR1 dry C1.1 1kg -> dried flake {out}")
    closure = run_page(told.actor, told.code("R1")).closure
    assert closure.state == ("closed within weighing", "usual", "to look at")[state]
    assert closure.direction == direction


@pytest.mark.django_db
def test_the_worst_come_first_and_pages_follow_on():
    told = shop()
    told.tell("C2: flake PET 50kg")
    for n in range(5, 15):
        told.tell(f"R{n} dry C2.1 1kg -> dried flake {990 + n % 3}g")
    for name, out in (("R1", 950), ("R2", 1000), ("R3", 600), ("R4", 995)):
        told.tell(f"{name} dry C1.1 1kg -> dried flake {out}g")
    found = closures(told.actor, *LONG, limit=2)
    assert [one.run for one in found.rows] == [told.code("R3"), told.code("R1")]
    assert (found.within, found.usual, found.to_look_at, found.open) == (1, 11, 0, 2)
    rest = closures(told.actor, *LONG, after=found.next, limit=2)
    assert len(rest.rows) == 2
    doubtful = closures(told.actor, *LONG, state=NOT_WITHIN)
    assert [one.run for one in doubtful.rows] == [one.run for one in found.rows]
    assert doubtful.next == ""
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
    assert any("smallest load" in doubt.said for doubt in done.doubts)
    assert any("steps of 1 g" in doubt.said for doubt in done.doubts)
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


def book(gains=0, start=1):
    """Fourteen runs of a wash: what comes out is wetter than what went in, where it gains."""
    told = shop("C1: clean bottles PET 200kg")
    for n in range(start, start + 14):
        told.tell(f"R{n} wash C1.1 1kg -> clean bottles {970 + gains + n % 4}g")
    return told


@pytest.mark.django_db
def test_a_wash_that_gains_water_says_the_same_on_its_page_and_in_the_list():
    told = shop("C1: clean bottles PET 200kg")
    entry = RunEntry(
        "wash",
        told.now,
        told.now + timedelta(hours=1),
        inputs=(DrawEntry(told.code("C1.1"), 1_000 * G),),
        outputs=(OutputEntry("clean bottles", 1_060 * G),),
        losses=(LossEntry("water", -60 * G),),
    )
    page = run_page(told.actor, run_record(told.actor, entry).code).closure
    (listed,) = closures(told.actor, *LONG).rows
    (row,) = runs_page(told.actor, stage="wash").rows
    assert page.unaccounted_mg == listed.unaccounted_mg == row.unaccounted_mg == 0
    assert page.state == listed.state == row.closes == "closed within weighing"


@pytest.mark.django_db
def test_what_is_usual_is_learnt_here_a_gain_in_a_wash_too():
    told = book(gains=90)
    told.tell("R90 wash C1.1 1kg -> clean bottles 1062g")
    told.tell("R91 wash C1.1 1kg -> clean bottles 700g")
    wet, dry = (run_page(told.actor, told.code(name)).closure for name in ("R90", "R91"))
    assert (wet.state, wet.usual_runs) == ("usual", 14)
    assert "taken up" in wet.sentence
    assert dry.state == "open"


@pytest.mark.django_db
def test_a_run_is_judged_by_those_that_ended_before_it_not_by_order_of_entry():
    """The sheet of a run comes last: the band of a run that ended later has it, its own not."""
    told = book()
    told.tell("R50 wash C1.1 1kg -> clean bottles 972g @900")
    after = told.code("R50")
    before = run_page(told.actor, after).closure
    assert before.usual_runs == 14
    early = START + timedelta(hours=800)
    late = RunEntry(
        "wash",
        early,
        early + timedelta(minutes=5),
        machine="wash tub",
        inputs=(DrawEntry(told.code("C1.1"), 1_000_000),),
        outputs=(OutputEntry("clean bottles", 800_000),),
    )
    code = run_record(told.actor, late).code
    own = run_page(told.actor, code).closure
    assert own.usual_runs == 14, "it learns from those that ended before it alone"
    assert run_page(told.actor, after).closure.usual_runs == 15


@pytest.mark.django_db
def test_a_void_run_teaches_nothing():
    told = book()
    told.tell("R50 wash C1.1 1kg -> clean bottles 500g\nvoid R50")
    told.tell("R51 wash C1.1 1kg -> clean bottles 972g")
    assert run_page(told.actor, told.code("R51")).closure.usual_runs == 14


@pytest.mark.django_db
def test_a_weigh_in_is_put_right_from_the_run_in_which_it_shows():
    """12.4 kg typed for 1.24 kg; the bag sorted to 1.18 and 0.05 kg: named, and corrected."""
    told = shop("C1: bottles PET 12.4kg")
    told.tell("R1 sort C1.1 all -> clean bottles 1180g, caps HDPE 50g")
    closure = run_page(told.actor, told.code("R1")).closure
    first, correct = closure.slips[0], closure.to_correct[0]
    assert (first.kind, first.right_mg, closure.named) == ("factor ten", 1_240 * G, True)
    assert first.run == told.code("C1.run") == correct.run
    assert first.postings == (told.posting("C1.run", lot="C1.1"),)
    trial = CorrectionEntry(correct.posting, correct.likely_mg, "one place off", flow=True)
    posting_correct(told.actor, trial)
    put_right = run_page(told.actor, told.code("R1")).closure
    assert (put_right.state, put_right.unaccounted_mg) == ("usual", 10 * G)
    assert put_right.slips == ()


@pytest.mark.django_db
def test_what_people_usually_lose_is_a_setting():
    told = shop("C1: flake PET 50kg\nR1 dry C1.1 10kg -> dried flake 9000g")
    assert run_page(told.actor, told.code("R1")).closure.state == "to look at"
    practice_set(told.actor, PracticeEntry("usual_loss_dry_percent", 8, "own trials"))
    assert run_page(told.actor, told.code("R1")).closure.state == "usual"


@pytest.mark.django_db
def test_a_machine_that_begins_to_lose_more_is_named():
    told = book()
    told.tell("C9: clean bottles PET 200kg")
    for n in range(30, 42):
        told.tell(f"R{n} wash C9.1 1kg -> clean bottles {930 + n % 4}g")
    (drifted,) = closures(told.actor, *LONG).drifts
    assert (drifted.stage, drifted.machine) == ("wash", "wash tub")
    assert drifted.now_share > 0.06 > drifted.usual_share
    assert "lately 6." in drifted.sentence
    assert closures(book().actor, *LONG).drifts == ()
