"""Whole runs: what they keep, and how heels are handled."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from recycling.models import Feed, RunOperator, Weighing
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import (
    DrawEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
    WeighingEntry,
)
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import run_log, run_open
from recycling.services.runs.run_record import run_record
from tests.factories import KG, G, MachineFactory, MemberFactory, ScaleFactory, said_of
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    told = tell(
        "C1: bottles PET 5kg, 3kg; bottles HDPE 1kg\n"
        "O1: dried flake PET 4kg; heel HDPE 40g in extruder; purge compound purge 1kg;"
        " clean bottles PET 2kg; flake PET 2kg; filament PET 1kg; dried flake HDPE 1kg"
    )
    yield told
    assert audit(told.actor.workshop_id) == []


def entry(told: Told, stage: str, **more: Any) -> RunEntry:
    return RunEntry(stage, **({"started_at": told.now, "ended_at": told.now} | more))


def draw(told: Told, lot: str, mass_mg: int | None = None, **more: Any) -> DrawEntry:
    return DrawEntry(told.code(lot), mass_mg, **more)


ABOVE = "Largest particle of a sample: 5.5 mm is above the limit of 4 mm: shred again or screen it."


def test_a_check_above_its_limit_is_said_however_it_is_noted(told: Told):
    coarse, fine = CheckEntry("largest_mm", " 5.5 "), CheckEntry("largest_mm", "4")
    inputs = (draw(told, "O1.4", 500 * G),)
    whole = entry(told, "shred", inputs=inputs, checks=(fine, CheckEntry("pass_number", "9")))
    assert run_record(told.actor, whole).doubts == ()
    assert said_of(run_record(told.actor, replace(whole, checks=(coarse,)))) == [ABOVE]
    code = run_open(told.actor, replace(whole, ended_at=None, checks=())).code
    assert run_log(told.actor, code, (fine,)).doubts == ()
    assert said_of(run_log(told.actor, code, (coarse,))) == [ABOVE]
    assert said_of(run_close(told.actor, code, checks=(coarse,))) == [ABOVE]


# What is kept


def test_everything_that_was_typed_is_kept(told: Told):
    MemberFactory(actor=told.actor, name="Bo")
    ScaleFactory(actor=told.actor, name="Bench")
    MachineFactory(actor=told.actor, name="Mill", kind="shredder")
    weighed = WeighingEntry(gross_mg=1_500_000, tare_mg=500_000, scale="Bench", note="twice")
    whole = WeighingEntry(how="estimated")
    run = told.run(
        run_record(
            told.actor,
            entry(
                told,
                "shred",
                machine="Mill",
                operators=("Bo", "Ada", "Bo"),
                inputs=(draw(told, "O1.4", all=True, weighing=whole),),
                outputs=(
                    OutputEntry("flake", 1 * KG, colour="clear", weighing=weighed, note="fine"),
                    OutputEntry("oversize", 900 * G, count=12),
                ),
                losses=(LossEntry("dust", 20 * G, "filter weighed"),),
                checks=(CheckEntry("largest_mm", " 4.5 "), CheckEntry("pass_number", "1")),
                feeds=(FeedEntry(told.now, told.code("O1.4"), 2 * KG),),
                note="blunt blades",
            ),
        ).code
    )
    assert (run.machine.name, run.note, run.polymer) == ("Mill", "blunt blades", "PET")
    assert {o.member.name for o in RunOperator.objects.filter(run=run)} == {"Ada", "Bo"}
    checks = run.checks.order_by("pk").values_list("key", "value", "within")
    assert list(checks) == [("largest_mm", "4.5", False), ("pass_number", "1", None)]
    flake, oversize = run.outputs.order_by("pk")
    assert (flake.colour, flake.note, oversize.count) == ("clear", "fine", 12)
    assert Feed.objects.get().mass_mg == 2 * KG
    kept = {w.posting.account_id: w for w in Weighing.objects.select_related("posting", "scale")}
    assert kept[flake.pk].scale.name == "Bench" and kept[flake.pk].note == "twice"
    assert kept[told.lot("O1.4").pk].how == "estimated"
    dust = next(w for w in kept.values() if w.note == "filter weighed")
    assert dust.posting.mass_mg == 20 * G and dust.posting.account.name == "dust"


def test_the_one_who_enters_it_worked_on_it(told: Told):
    told.tell("R1 sort C1.1 1kg -> clean bottles 900g")
    assert RunOperator.objects.get(run=told.run("R1")).member.name == "Ada"


def test_entries_carry_who_when_and_the_key(told: Told):
    import dataclasses

    from recycling.ledger.models import Entry

    actor = dataclasses.replace(told.actor, key="k-77")
    run_record(actor, entry(told, "sort", inputs=(draw(told, "C1.1", KG),)))
    kept = Entry.objects.order_by("-sequence").first()
    assert (kept.key, kept.actor, kept.happened_at) == ("k-77", actor.reference, told.now)
    assert abs(kept.written_at - timezone.now()) < timedelta(minutes=1)


def test_more_may_come_out_than_went_in(told: Told):
    result = run_record(
        told.actor,
        entry(
            told,
            "sort",
            inputs=(draw(told, "C1.1", KG),),
            outputs=(OutputEntry("clean bottles", KG + 5),),
        ),
    )
    assert result.unaccounted_mg == -5
    assert sum(told.composition(result.lots[0].code).values()) == KG + 5


def test_spools_have_a_code_and_facts_of_their_own(told: Told):
    result = run_record(
        told.actor,
        entry(
            told,
            "wind",
            inputs=(draw(told, "O1.6", KG),),
            outputs=(
                OutputEntry("filament", 750 * G, spool=SpoolEntry(2.85, 0.1, 230 * G, 95.5)),
                OutputEntry("filament", 240 * G),
            ),
        ),
    )
    spool, coil = (told.lot(lot.code) for lot in result.lots)
    assert (spool.code[0], coil.code[0]) == ("S", "L")
    facts = spool.spool
    assert (facts.diameter_mm, facts.tolerance_mm, facts.tare_mg, facts.length_m) == (
        2.85,
        0.1,
        230 * G,
        95.5,
    )
    assert not hasattr(coil, "spool")


def test_a_role_can_be_another_of_the_forms_own(told: Told):
    outputs = (OutputEntry("caps", 9, "HDPE", role="waste"),)
    result = run_record(
        told.actor, entry(told, "sort", inputs=(draw(told, "C1.1", 9),), outputs=outputs)
    )
    assert result.lots[0].role == "waste"


# Heels


def test_the_old_heel_is_taken_in_and_a_new_one_handed_over(told: Told):
    told.tell("R1 extrude O1.1 1kg, O1.3 200g -> filament 900g spool, heel 60g")
    assert told.on_hand("O1.2") == 0
    parts = told.composition("R1.1")
    assert set(parts) == {"O1"}
    told.tell("P1: dried flake PET 1kg\nR2 extrude P1.1 1kg -> filament 940g spool, heel 60g")
    assert told.on_hand("R1.heel") == 0
    assert told.composition("R2.1") == {"O1": 53_208, "P1": 886_792}  # 940 g · 60/1060
    assert [d.lot.code for d in told.run("R2").draws.order_by("pk")] == [
        told.code("R1.heel"),
        told.code("P1.1"),
    ]


def test_a_purge_to_another_polymer_leaves_a_heel_of_purge(told: Told):
    told.tell(
        "R1 extrude O1.1 1kg -> filament 900g spool, heel 60g\n"
        "R2 extrude O1.3 500g -> changeover scrap 480g, heel 70g purge"
    )
    assert told.run("R2").polymer == "purge"
    assert told.lot("R2.heel").polymer == "purge"
    told.tell("R3 extrude O1.7 1kg -> changeover scrap 150g purge, filament 800g spool, heel 60g")
    assert (told.run("R3").polymer, told.lot("R3.1").polymer) == ("HDPE", "purge")
    assert told.lot("R3.heel").polymer == told.lot("R3.2").polymer == "HDPE"


def test_each_machine_has_its_own_heel(told: Told):
    MachineFactory(actor=told.actor, name="Second", kind="extruder")
    told.tell("R1 extrude on Second: O1.1 1kg -> filament 900g, heel 50g")
    assert told.on_hand("O1.2") == 40 * G
    told.tell("R2 extrude on extruder: O1.1 1kg -> filament 900g, heel 50g")
    assert (told.on_hand("O1.2"), told.on_hand("R1.heel")) == (0, 50 * G)


def test_a_heel_that_is_named_is_not_taken_in_twice(told: Told):
    typed = told.code("O1.2").lower().replace("-", "")
    run_record(
        told.actor,
        entry(
            told,
            "extrude",
            machine="extruder",
            inputs=(DrawEntry(typed, all=True), draw(told, "O1.1", KG)),
        ),
    )
    assert told.on_hand("O1.2") == 0


def test_pointers_point_at_what_was_entered_not_past_the_heel(told: Told):
    told.tell("R0 sort C1.1 all -> clean bottles 4kg")
    with refused("lot-used-up", pointer="/inputs/0/lot"):
        told.tell("R1 extrude C1.1 all -> filament 900g")
    told.tell("hold O1.2")
    with refused("lot-held", pointer="/machine", says=told.code("O1.2")):
        told.tell("R1 extrude O1.1 1kg -> filament 900g")
    told.tell("hold O1.1")
    with refused("lot-held", "lot-held") as said:
        told.tell("R1 extrude O1.1 1kg -> filament 900g")
    assert [p.pointer for p in said[0].problems] == ["/machine", "/inputs/0/lot"]


def test_a_voided_run_puts_the_old_heel_back(told: Told):
    told.tell("R1 extrude O1.1 1kg -> filament 900g, heel 60g\nvoid R1")
    assert (told.on_hand("O1.2"), told.on_hand("R1.heel")) == (40 * G, 0)
    told.tell("R2 extrude O1.1 1kg -> filament 900g, heel 60g")
    assert told.on_hand("O1.2") == 0


def test_a_draw_before_the_lot_was_made_says_when_it_was_made():
    told = tell("C1: bottles PET 2kg @30")
    early = told.now - timedelta(hours=5)
    entry = RunEntry(
        "sort",
        early,
        early,
        inputs=(DrawEntry(told.code("C1.1"), 1_000_000),),
        outputs=(OutputEntry("clean bottles", 900_000),),
    )
    with refused("lot-overdrawn", says="was made at 2024-01-09 14:00"):
        run_record(told.actor, entry)
