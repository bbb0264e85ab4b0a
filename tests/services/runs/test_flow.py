"""A mass put right flows on: the book is then what it would have been, had it been right at once.

``FLOW_BOOKS`` sets how many random books; each is told twice, once right and once with a slip that
is put right afterwards, and compared to the milligram.
"""

from __future__ import annotations

import os
import random
from dataclasses import asdict, replace
from datetime import timedelta

import pytest

from recycling.ledger.models import Account, Entry, Posting
from recycling.models import Draw, Lot, Run, RunCheck
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import DrawEntry, LossEntry, OutputEntry
from recycling.records.runs.entries import CheckEntry, CorrectionEntry, RunEntry
from recycling.services.rehearsal import rehearse
from recycling.services.runs.corrections import posting_correct
from recycling.services.runs.run_open import run_draw, run_log, run_loss_add, run_output_add
from recycling.services.runs.run_record import run_record
from recycling.services.runs.undo import correction_undo, run_undo
from recycling.services.runs.void import run_void
from tests.factories import KG, G, MemberFactory
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
BOOKS = int(os.environ.get("FLOW_BOOKS", "8"))


def book_of(told: Told) -> dict:
    """Say all that a book holds, by the names of the history, whatever its entries are."""
    names = {code: name for name, code in told.codes.items()}
    workshop = told.actor.workshop_id
    lots = Lot.objects.filter(workshop_id=workshop).select_related("account")
    draws = Draw.objects.filter(run__workshop_id=workshop, mass_mg__gt=0)
    borders = Account.objects.filter(book_id=workshop, kind="border").exclude(balance_mg=0)
    return {
        "lots": {names[one.code]: (one.made_mg, one.account.balance_mg) for one in lots},
        "draws": {
            (names[run], names[lot]): mass
            for run, lot, mass in draws.values_list("run__code", "lot__code", "mass_mg")
        },
        "borders": {(one.name, one.commodity): one.balance_mg for one in borders},
        "shares": {names[one.code]: told.composition(one.code) for one in lots},
    }


def story(bag_mg: int, chance: random.Random) -> str:
    """Two bags, of which the first is in doubt, sorted and washed, and what was left discarded."""
    second, washed = chance.randint(2_000_000, 6_000_000), chance.randint(500_000, 900_000)
    clean, caps = chance.randint(3_000_000, 4_000_000), chance.randint(1, 90_000)
    lines = [
        f"C1: bottles PET {bag_mg}mg, {second}mg",
        f"R1 sort C1.1 all, C1.2 {second // 2}mg -> clean bottles {clean}mg, caps HDPE {caps}mg",
        f"R2 wash R1.1 {washed}mg -> clean bottles {washed - 1000}mg",
    ]
    if chance.random() < 0.5:
        lines[1:1] = [f"R9 discard C1.1 {chance.randint(1, 100_000)}mg"]
    if chance.random() < 0.5:
        lines.append("R3 discard C1.2 all")
    if chance.random() < 0.5:
        lines.append("R4 discard R1.1 all")
    if chance.random() < 0.4:
        lines.append(f"open R5 shred R2.1 {washed // 2}mg\nR5 gives flake {washed // 3}mg")
    return "\n".join(lines)


def test_put_right_by_flow_is_as_if_right_at_once(db):
    for seed in range(BOOKS):
        right_mg = random.Random(seed).choice((4_000_000, 4_200_000, 5_123_457))
        wrong_mg = int(right_mg * random.Random(seed + 1).choice((10, 1.3, 0.7, 1.001)))
        right = tell(story(right_mg, random.Random(seed)))
        slipped = tell(story(wrong_mg, random.Random(seed)))
        root = slipped.posting("C1.run", "C1.1")
        entry = CorrectionEntry(root, right_mg, "a slip", flow=True)
        foreseen = rehearse(lambda entry=entry, told=slipped: posting_correct(told.actor, entry))
        done = posting_correct(slipped.actor, entry)
        assert asdict(done) == asdict(foreseen), seed
        assert book_of(slipped) == book_of(right), seed
        assert audit(slipped.actor.workshop_id) == []


def test_without_flow_what_was_taken_whole_is_refused(db):
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 all -> clean bottles 4kg")
    root = told.posting("C1.run", "C1.1")
    with refused("lot-overdrawn", says=told.code("R1")):
        told.correct(root, "4.5kg")
    done = told.correct(root, "4.5kg", flow=True)
    assert [(one.figure, one.before_mg, one.after_mg) for one in done.changes] == [
        ("received", 5_000_000, 4_500_000),
        ("given", 5_000_000, 4_500_000),
        ("unaccounted", 1_000_000, 500_000),
        ("drawn", 5_000_000, 4_500_000),
    ] or {(one.figure, one.before_mg, one.after_mg) for one in done.changes} == {
        ("received", 5_000_000, 4_500_000),
        ("given", 5_000_000, 4_500_000),
        ("unaccounted", 1_000_000, 500_000),
        ("drawn", 5_000_000, 4_500_000),
    }
    assert audit(told.actor.workshop_id) == []


def test_what_was_weighed_stays_and_is_named(db):
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3kg\nR2 discard C1.1 all")
    root = told.posting("C1.run", "C1.1")
    with refused("lot-overdrawn", says=told.code("R1")):
        told.correct(root, "3.5kg", flow=True)
    told.correct(root, "4.1kg", flow=True)
    assert told.border("discarded") == 100_000 and told.on_hand("C1.1") == 0
    told.correct(root, "4kg", flow=True)
    assert told.border("discarded") == 0
    assert audit(told.actor.workshop_id) == []


def test_nothing_flows_past_a_count(db):
    told = tell(
        "C1: bottles PET 5kg\nR1 sort C1.1 1kg -> clean bottles 900g\ncount R2: C1.1 3.9kg\n"
        "R3 sort C1.1 all -> clean bottles 3.8kg"
    )
    told.correct(told.posting("C1.run", "C1.1"), "6kg", flow=True)
    assert told.run("R3").draws.get().mass_mg == 3_900_000
    assert told.on_hand("C1.1") == 0 and told.border("unaccounted") == 100_000 * 2 + 1_100_000
    assert audit(told.actor.workshop_id) == []


def test_the_entries_of_a_deed_carry_one_time(db):
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 all -> clean bottles 4kg")
    told.correct(told.posting("C1.run", "C1.1"), "6kg", flow=True)
    entries = list(Entry.objects.order_by("sequence"))[2:]
    assert len(entries) == 2 and len({one.written_at for one in entries}) == 1


# Voids with what followed

CHAIN = """
C1: bottles PET 5kg
R1 sort C1.1 4kg -> clean bottles 3.5kg, caps HDPE 100g
R2 shred R1.1 2kg -> flake 1.9kg
R3 discard R2.1 all
count R4: R1.1 1.4kg
open R5 shred R1.1 200g
"""


def test_a_void_with_what_followed_gives_the_former_book(db):
    before = tell(CHAIN.strip().splitlines()[0])
    told = tell(CHAIN)
    code = told.code("R1")
    foreseen = rehearse(lambda: run_void(told.actor, code, "never was", with_descendants=True))
    done = run_void(told.actor, code, "never was", with_descendants=True)
    assert asdict(done) == asdict(foreseen)
    assert set(done.voided) == {told.code(name) for name in ("R1", "R2", "R3", "R4", "R5")}
    assert done.voided[-1] == code  # the latest first
    assert told.on_hand("C1.1") == before.on_hand("C1.1") == 5_000_000
    assert book_of(told)["borders"] == book_of(before)["borders"]
    assert audit(told.actor.workshop_id) == []


def test_a_count_of_other_lots_too_is_voided_first(db):
    told = tell(CHAIN + "count R6: C1.1 1kg, R1.1 1kg")
    with refused("run-counted-since", says=told.code("R1.1")):
        run_void(told.actor, told.code("R1"), "never was", with_descendants=True)


# Undo


def test_what_was_just_recorded_is_undone_without_a_reason(db):
    told = tell("C1: bottles PET 5kg")
    before = book_of(told)
    told.tell("R1 sort C1.1 4kg -> clean bottles 3.5kg")
    run_undo(told.actor, told.code("R1"))
    assert told.run("R1").state == Run.VOID
    assert told.on_hand("C1.1") == 5_000_000
    assert book_of(told)["borders"] == before["borders"]
    run_undo(told.actor, told.code("C1.run"))
    assert book_of(told)["borders"] == {} and audit(told.actor.workshop_id) == []


def held(told: Told) -> tuple:
    """Say what accounts hold, what runs drew and what was noted, but for what is nothing."""
    accounts = Account.objects.filter(book_id=told.actor.workshop_id).exclude(balance_mg=0)
    drawn = Draw.objects.filter(mass_mg__gt=0).values_list("run_id", "lot_id", "mass_mg")
    return dict(accounts.values_list("pk", "balance_mg")), list(drawn), RunCheck.objects.count()


def test_of_an_open_run_what_was_recorded_last_is_undone_part_by_part(db):
    """Each undo gives the book that was there before that part, back to the empty run."""
    told = tell("C1: bottles PET 5kg\nopen R1 sort")
    code, parts = told.code("R1"), []
    for part in (
        lambda: run_draw(told.actor, code, [DrawEntry(told.code("C1.1"), 4 * KG)]),
        lambda: run_output_add(told.actor, code, [OutputEntry("clean bottles", 3 * KG)]),
        lambda: run_loss_add(told.actor, code, [LossEntry("residue", 5 * G)]),
        lambda: run_log(told.actor, code, (CheckEntry("adhesive_method", "none"),)),
    ):
        parts.append(held(told))
        until = part().undo_until
    with refused("undo-over", says="recorded on it since"):
        run_undo(told.actor, code, until - timedelta(seconds=1))
    with refused("undo-over", says="Somebody else"):
        run_undo(MemberFactory(actor=told.actor, name="Bo"), code)
    assert run_undo(told.actor, code, until).voided == ()
    assert held(told) == parts.pop()
    while parts:
        run_undo(told.actor, code)
        assert held(told) == parts.pop()
    with refused("undo-over", says="nothing here"):
        run_undo(told.actor, code)
    assert audit(told.actor.workshop_id) == []
    run_draw(told.actor, code, [DrawEntry(told.code("C1.1"), 2 * KG)])
    assert told.run("R1").state == Run.OPEN and told.on_hand("C1.1") == 3 * KG


def test_what_an_open_run_gave_is_not_undone_once_it_was_used(db):
    told = tell("C1: bottles PET 5kg\nopen R1 sort\nR1 draws C1.1 4kg")
    lots = run_output_add(
        told.actor, told.code("R1"), [OutputEntry("clean bottles", 3 * KG)], told.now
    ).lots
    shred = RunEntry("shred", told.now, told.now, inputs=(DrawEntry(lots[0].code, 1 * KG),))
    run_record(told.actor, replace(shred, outputs=(OutputEntry("flake", 1 * KG),)))
    with refused("undo-over", says="recorded on it since"):
        run_undo(told.actor, told.code("R1"))


def test_a_correction_with_all_that_flowed_is_undone(db):
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 all -> clean bottles 4kg\ncount R2: R1.1 3kg")
    before, root = book_of(told), told.posting("C1.run", "C1.1")
    told.correct(root, "6kg", flow=True)
    correction_undo(told.actor, root)
    assert book_of(told) == before
    made = told.posting("R1", "R1.1")
    told.correct(made, "4.5kg")  # the count takes it up, and gives it back
    correction_undo(told.actor, made)
    assert book_of(told) == before and audit(told.actor.workshop_id) == []


def test_undo_is_for_whoever_did_it_for_a_while_and_while_nothing_builds_on_it(db, settings):
    told = tell("C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3.5kg")
    code, root = told.code("R1"), told.posting("R1", "R1.1")
    other = MemberFactory(actor=told.actor, name="Bo")
    with refused("undo-over", says="Somebody else"):
        run_undo(other, code)
    with refused("undo-over", says="nothing here to undo"):
        correction_undo(told.actor, root)
    told.correct(root, "3.6kg")
    told.tell("R2 shred R1.1 1kg -> flake 900g")
    with refused("run-drawn-on"):
        run_undo(told.actor, code)
    with refused("undo-over", says="recorded on it since"):
        correction_undo(told.actor, root)
    settings.UNDO_MINUTES = 0
    with refused("undo-over", says="0 minutes"):
        run_undo(told.actor, told.code("R2"))
    assert Posting.objects.filter(corrects_id=root).count() == 1
