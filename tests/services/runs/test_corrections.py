"""Corrections and voids: the difference is posted, what descends follows, nothing is erased."""

from __future__ import annotations

from fractions import Fraction

import pytest

from recycling.ledger.models import Entry, Posting
from recycling.models import ChangeEvent, Job, Lot, Run
from recycling.queries.integrity.audit import audit
from recycling.records.runs.entries import CorrectionEntry
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.void import run_void
from tests.histories import Told, posted, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db

BOOK = """
C1: bottles PET 5kg, 3kg
C2: bottles PET 2kg
R1 sort C1.1 all, C2.1 all -> clean bottles 6.5kg, caps HDPE 400g, ~residue 50g
R2 shred R1.1 6kg -> flake 5.8kg, fines 150g
R3 dispatch R1.2 100g
"""


@pytest.fixture
def told(db) -> Told:
    """A small book; whatever a test did to it, the audit finds nothing afterwards."""
    told = tell(BOOK)
    yield told
    assert audit(told.actor.workshop_id) == []


def test_a_draw_is_corrected_down(told: Told):
    before = told.border("unaccounted")
    corrected = told.correct(told.posting("R2", "R1.1"), "5.9kg")
    assert (corrected.before_mg, corrected.after_mg, corrected.delta_mg) == (
        6_000_000,
        5_900_000,
        100_000,
    )
    assert told.on_hand("R1.1") == 600_000
    assert told.border("unaccounted") == before - 100_000
    assert told.run("R2").draws.get().mass_mg == 5_900_000


def test_an_output_is_corrected_and_what_descends_is_composed_anew(told: Told):
    told.correct(told.posting("R1", "R1.1"), "7kg")
    assert told.lot("R1.1").made_mg == 7_000_000
    assert told.on_hand("R1.1") == 1_000_000
    assert told.composition("R1.1") == {"C1": 5_000_000, "C2": 2_000_000}
    assert told.border("unaccounted") == 50_000 + (7_000_000 - 7_450_000)


def test_a_received_mass_is_corrected_over_the_border_it_came_by(told: Told):
    told.correct(told.posting("C1.run", "C1.1"), "5.1kg")
    assert told.border("received") == -10_100_000
    assert told.on_hand("C1.1") == 100_000
    assert told.composition("C1.1") == {"C1": 5_100_000}
    assert told.border("unaccounted") == 50_000 + 50_000


def test_a_received_mass_changes_the_shares_of_all_that_descends(told: Told):
    told.correct(told.posting("C1.run", "C1.1"), "6kg")
    told.correct(told.posting("R1", "C1.1"), "6kg")
    for name in ("R1.1", "R1.2", "R2.1", "R2.2"):
        parts = told.composition(name)
        assert abs(Fraction(parts["C1"], told.lot(name).made_mg) - Fraction(6, 8)) < Fraction(
            1, 10_000
        )
        assert sum(parts.values()) == told.lot(name).made_mg


def test_a_loss_is_corrected(told: Told):
    told.correct(told.posting("R1", loss="residue"), "80g")
    assert told.border("residue") == 80_000
    assert told.border("unaccounted") == 50_000 + 50_000 - 30_000


def test_a_gain_is_corrected_with_its_own_sign(told: Told):
    told.tell("R9 wash R1.1 500g -> clean bottles 510g, ~water -12g")
    told.correct(told.posting("R9", loss="water"), "10g")
    assert told.border("water") == -10_000


def test_a_dispatch_is_corrected_over_the_border(told: Told):
    told.correct(told.posting("R3", "R1.2"), "120g")
    assert told.border("dispatched", "HDPE") == 120_000
    assert told.on_hand("R1.2") == 280_000
    assert told.border("unaccounted", "HDPE") == 0


def test_a_discard_is_corrected_over_the_border(told: Told):
    told.tell("R9 discard R2.2 100g")
    told.correct(told.posting("R9", "R2.2"), "150g")
    assert told.border("discarded") == 150_000
    assert told.on_hand("R2.2") == 0


def test_a_figure_is_corrected_again_and_again(told: Told):
    first = told.posting("R2", "R1.1")
    masses = ["5.9kg", "6.1kg", "5.95kg", "0g", "6kg"]
    for mass in masses:
        told.correct(first, mass)
    chain = Posting.objects.filter(corrects_id=first).order_by("pk")
    assert list(chain.values_list("mass_mg", flat=True)) == [
        100_000,
        -200_000,
        150_000,
        5_950_000,
        -6_000_000,
    ]
    assert told.on_hand("R1.1") == 500_000
    entries = Entry.objects.filter(postings__corrects_id=first)
    assert {(e.kind, e.reason, e.actor) for e in entries} == {
        ("correct", "misread", told.actor.reference)
    }
    assert {e.happened_at for e in entries} == {told.run("R2").ended_at}


def test_correcting_a_correction_corrects_the_figure(told: Told):
    first = told.posting("R2", "R1.1")
    told.correct(first, "5.9kg")
    second = Posting.objects.get(corrects_id=first).pk
    assert told.correct(second, "5.8kg").posting == first
    assert told.on_hand("R1.1") == 700_000


def test_what_a_past_moment_believed_can_still_be_read(told: Told):
    lot = told.lot("R1.1").pk
    known = Entry.objects.order_by("-sequence").first().sequence
    told.correct(told.posting("R2", "R1.1"), "5.5kg")
    then = Posting.objects.filter(account_id=lot, entry__sequence__lte=known)
    assert sum(then.values_list("mass_mg", flat=True)) == 500_000
    assert posted(lot) == 1_000_000


def test_below_zero_now_is_refused(told: Told):
    with refused("lot-overdrawn", says=f"Lot {told.code('R1.1')} would be 100 g below zero"):
        told.correct(told.posting("R2", "R1.1"), "6.6kg")


def test_below_zero_at_an_earlier_time_is_refused_with_that_time(told: Told):
    told.tell("R4 wash R1.1 all -> clean bottles 480g @20\nC3: clean bottles PET 9kg @30")
    with refused("lot-overdrawn", says="100 g below zero at 2024-01-09 04:00 UTC"):
        told.correct(told.posting("R1", "R1.1"), "6.4kg")
    told.tell("count R5: R1.1 900g @40")  # plenty is there now, but not at hour 20
    with refused("lot-overdrawn", says="100 g below zero at 2024-01-09 04:00 UTC"):
        told.correct(told.posting("R1", "R1.1"), "6.4kg")


def test_a_lot_taken_since_names_who_took_it_and_what_to_do(told: Told):
    told.tell("R4 wash R1.1 200g -> clean bottles 190g @20\nR5 shred R1.1 all -> flake 300g @30")
    made = told.posting("R1", "R1.1")
    runs = ", ".join(told.code(name) for name in ("R2", "R4", "R5"))
    with refused("lot-overdrawn", says=f"{runs} drew from it. Correct what was drawn there first"):
        told.correct(made, "6.4kg")
    told.correct(told.posting("R4", "R1.1"), "0g")
    runs = ", ".join(told.code(name) for name in ("R2", "R5"))
    with refused("lot-overdrawn", says=f"Lot {told.code('R1.1')} would be 200 g below zero"):
        told.correct(made, "6.1kg")
    with refused("lot-overdrawn", says=f": {runs} drew from it"):
        told.correct(made, "6.1kg")
    told.correct(told.posting("R5", "R1.1"), "100g")
    told.correct(made, "6.1kg")
    assert told.on_hand("R1.1") == 0


def test_a_draw_that_is_raised_names_only_who_drew_since(told: Told):
    told.tell("R4 wash R1.1 all -> clean bottles 480g @20")
    with refused("lot-overdrawn", says=f"zero at 2024-01-09 04:00 UTC: {told.code('R4')} drew"):
        told.correct(told.posting("R2", "R1.1"), "6.1kg")


def test_what_cannot_be_corrected_says_why(told: Told):
    actor, lot_posting = told.actor, told.posting("R2", "R1.1")
    process = Posting.objects.filter(account__kind="process")
    unaccounted = told.posting("R2", loss="unaccounted")
    with refused("nothing-changed"):
        told.correct(lot_posting, "6kg")
    with refused("reason-missing", pointer="/reason"):
        told.correct(lot_posting, "5kg", reason="  ")
    with refused("text-too-long", pointer="/reason"):
        told.correct(lot_posting, "5kg", reason="x" * 501)
    with refused("text-unreadable", pointer="/reason"):
        told.correct(lot_posting, "5kg", reason="be\x00fore")
    with refused("figure-follows"):
        told.correct(unaccounted, "1kg")
    with refused("figure-follows"):
        told.correct(told.posting("C1.run", loss="received"), "1kg")
    with refused("posting-unknown"):
        told.correct(10**9, "1kg")
    for mass_mg, code in ((-1, "mass-not-positive"), (10**12 + 1, "mass-too-large")):
        with refused(code, pointer="/mass_mg"):
            posting_correct(actor, CorrectionEntry(lot_posting, mass_mg, "why"))
    with refused("mass-not-whole"):
        posting_correct(actor, CorrectionEntry(lot_posting, 1.5, "why"))  # type: ignore[arg-type]
    assert not process.exists()  # a whole run never touches its work in process
    told.tell("open R9 shred R1.1 100g")
    with refused("figure-follows"):
        told.correct(process.values_list("pk", flat=True)[0], "1kg")


def test_another_workshops_posting_is_unknown(told: Told):
    strange = tell("C1: bottles PET 1kg")
    with refused("posting-unknown") as said:
        told.correct(strange.posting("C1.run", "C1.1"), "2kg")
    assert said[0].status == 404
    assert strange.on_hand("C1.1") == 1_000_000


def test_corrections_in_an_open_run_go_to_its_work_in_process(told: Told):
    told.tell("open R9 shred R1.1 300g\nR9 gives flake 200g")
    told.correct(told.posting("R9", "R1.1"), "400g")
    told.correct(told.posting("R9", "R9.1"), "250g")
    assert posted(told.run("R9").pk) == 150_000
    told.tell("close R9")
    assert posted(told.run("R9").pk) == 0
    assert told.on_hand("R9.1") == 250_000


def test_many_descendants_are_left_to_a_marked_job(told: Told, settings, monkeypatch):
    settings.RECALCULATE_AT_ONCE_RUNS = 1
    sent: list[int] = []
    monkeypatch.setattr("recycling.jobs.send", lambda job, task: sent.append(job))
    old = told.composition("R2.1")
    corrected = told.correct(told.posting("R1", "C2.1"), "1kg")
    assert corrected.waiting_runs == 3  # R1 and the two that drew on what it gave
    assert told.composition("R2.1") == old
    stale = Lot.objects.filter(stale=True).values_list("code", flat=True)
    assert set(stale) == {told.code(name) for name in ("R1.1", "R1.2", "R2.1", "R2.2")}

    from recycling.services.runs.recompute import compositions_recompute

    job = Job.objects.get()
    assert compositions_recompute(job.pk) == 4
    assert not Lot.objects.filter(stale=True).exists()
    assert told.composition("R2.1") != old
    assert compositions_recompute(job.pk) == 0  # a finished job is left alone


def test_what_is_made_of_marked_lots_is_marked_until_the_job_is_done(
    told: Told, settings, monkeypatch
):
    monkeypatch.setattr("recycling.jobs.send", lambda job, task: None)
    settings.RECALCULATE_AT_ONCE_RUNS = 1
    told.correct(told.posting("R1", "C2.1"), "1kg")
    told.tell("R9 dry R2.1 1kg -> dried flake 990g")
    assert told.lot("R9.1").stale
    told.tell("open R10 dry R2.1 1kg\nR10 gives dried flake 500g\nclose R10 -> dried flake 400g")
    assert told.lot("R10.1").stale and told.lot("R10.2").stale

    from recycling.services.runs.recompute import compositions_recompute

    compositions_recompute(Job.objects.get().pk)
    assert not Lot.objects.filter(stale=True).exists()


# Voids


def test_a_void_gives_back_what_was_drawn_and_takes_back_what_was_given(told: Told):
    told.tell("void R3")
    assert told.on_hand("R1.2") == 400_000
    assert told.border("dispatched", "HDPE") == 0
    assert told.run("R3").state == Run.VOID
    assert told.run("R3").draws.get().mass_mg == 0
    told.tell("void R2")
    assert (told.on_hand("R1.1"), told.on_hand("R2.1"), told.on_hand("R2.2")) == (6_500_000, 0, 0)
    assert told.composition("R2.1") == {}
    told.tell("void R1\nvoid C1.run")
    assert told.on_hand("C1.1") == 0 and told.border("received") == -2_000_000
    assert told.border("unaccounted") == told.border("residue") == 0


def test_a_void_stays_readable(told: Told):
    told.tell("void R2")
    run = told.run("R2")
    entries = Entry.objects.filter(process_id=run.pk).order_by("sequence")
    assert [entry.kind for entry in entries] == ["run", "void"]
    event = ChangeEvent.objects.get(subject=run.code)
    assert (event.before, event.after, event.reason) == (
        {"state": "closed"},
        {"state": "void"},
        "a mistake",
    )


def test_a_void_takes_corrections_back_too(told: Told):
    told.correct(told.posting("R2", "R1.1"), "5.9kg")
    told.correct(told.posting("R2", "R2.1"), "5.7kg")
    told.tell("void R2")
    assert told.on_hand("R1.1") == 6_500_000
    assert told.border("unaccounted") == 50_000


def test_a_void_under_later_runs_names_them(told: Told):
    told.tell("open R4 wash R1.1 200g")
    with refused("run-drawn-on", says=f"{told.code('R2')}, {told.code('R3')}, {told.code('R4')}"):
        run_void(told.actor, told.code("R1"), "a mistake")
    told.tell("void R2\nvoid R3")
    with refused("run-drawn-on", says=told.code("R4")):
        run_void(told.actor, told.code("R1"), "a mistake")
    told.tell("void R4\nvoid R1")
    assert told.on_hand("C1.1") == 5_000_000


def test_a_draw_corrected_to_nothing_does_not_keep_a_run_from_its_void(told: Told):
    told.correct(told.posting("R3", "R1.2"), "0g")
    told.tell("void R2\nvoid R1")
    assert told.on_hand("C2.1") == 2_000_000


@pytest.mark.parametrize("counted", ["5.7kg", "5.8kg"])
def test_a_void_under_a_count_is_refused_even_when_the_count_agreed(told: Told, counted):
    told.tell(f"count R4: R2.1 {counted}")
    with refused("run-counted-since", says=told.code("R2.1")):
        run_void(told.actor, told.code("R2"), "a mistake")
    told.tell("void R4\nvoid R2")
    assert told.on_hand("R2.1") == 0


def test_a_count_is_voided(told: Told):
    told.tell("count R4: R2.1 5.7kg\nvoid R4")
    assert told.on_hand("R2.1") == 5_800_000
    assert told.border("unaccounted") == 50_000 + 50_000


def test_a_count_on_which_later_draws_rest_is_not_voided(told: Told):
    told.tell("count R4: R2.1 6kg\nR5 dry R2.1 5.9kg -> dried flake 5.9kg")
    with refused("lot-overdrawn", says=told.code("R2.1")):
        run_void(told.actor, told.code("R4"), "a mistake")


def test_an_open_run_is_voided(told: Told):
    told.tell("open R9 shred R1.1 300g\nR9 gives flake 200g\nR9 loses ~dust 3g\nvoid R9")
    assert (told.on_hand("R1.1"), told.on_hand("R9.1")) == (500_000, 0)
    assert posted(told.run("R9").pk) == 0 and told.border("dust") == 0
    assert told.run("R9").ended_at is not None


def test_a_void_run_is_left_alone(told: Told):
    told.tell("void R3")
    with refused("run-void"):
        run_void(told.actor, told.code("R3"), "again")
    with refused("run-void"):
        told.correct(told.posting("R3", "R1.2"), "90g")
    with refused("reason-missing"):
        run_void(told.actor, told.code("R2"), "")
    with refused("run-unknown"):
        run_void(told.actor, "R999-1", "why")
