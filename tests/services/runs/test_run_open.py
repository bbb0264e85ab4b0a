"""Open runs: drawn into, given from and closed while the work goes on."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from recycling.models import Feed, Run
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    WeighingEntry,
)
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import (
    run_draw,
    run_log,
    run_loss_add,
    run_open,
    run_output_add,
)
from recycling.services.runs.void import run_void
from tests.factories import KG, START
from tests.histories import Told, posted, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    told = tell(
        "C1: clean bottles PET 5kg, 3kg\nC2: clean bottles PET 2kg\nO1: dried flake PET 4kg;"
        " heel HDPE 40g in extruder; purge compound purge 1kg; caps HDPE 2kg; flake PET 1kg"
    )
    yield told
    assert audit(told.actor.workshop_id) == []


def test_what_is_drawn_waits_in_process_until_the_close(told: Told):
    told.tell("open R1 shred C1.1 2kg")
    run = told.run("R1").pk
    assert posted(run) == 2 * KG
    told.tell("R1 gives flake 1.5kg\nR1 loses ~dust 10g\nR1 draws C1.1 500g")
    assert posted(run) == 990_000
    told.tell("close R1 -> flake 900g, fines 50g, ~dust 5g")
    assert posted(run) == 0
    assert told.border("unaccounted") == 35_000
    assert told.results["R1"].inputs_mg == 2_500_000
    assert told.run("R1").state == Run.CLOSED and told.run("R1").ended_at == told.now


def test_an_early_output_holds_nothing_that_was_drawn_after_it(told: Told):
    told.tell("open R1 shred C1.1 1kg\nR1 gives flake 800g\nR2 dry R1.1 100g -> dried flake 100g")
    assert told.composition("R2.1") == {"C1": 100_000}
    told.tell("R1 draws C2.1 1kg")
    assert told.composition("R1.1") == {"C1": 800_000}
    told.tell("R1 draws C1.1 2kg\nclose R1 -> flake 3kg")
    assert told.composition("R1.1") == {"C1": 800_000}
    assert told.composition("R2.1") == {"C1": 100_000}
    # 200 g of C1 were left, 1 kg of C2 and 2 kg of C1 came: 3 kg of 3.2 kg
    assert told.composition("R1.2") == {"C1": 2_062_500, "C2": 937_500}


def test_a_draw_that_is_corrected_upwards_was_fed_when_it_was_drawn(told: Told):
    told.tell("open R1 shred C1.1 1kg\nR1 gives flake 800g\nR1 draws C2.1 1kg\nR1 gives flake 1kg")
    first = told.composition("R1.2")
    assert first == {"C1": 166_667, "C2": 833_333}
    told.tell("correct R1 drew C2.1 2kg")
    assert told.composition("R1.1") == {"C1": 800_000}
    assert told.composition("R1.2") == {"C1": 90_909, "C2": 909_091}


def test_outputs_cut_before_they_can_have_been_fed_are_mixed_of_the_whole_run(told: Told):
    told.tell("open R1 shred C1.1 500g\nR1 gives flake 800g")
    told.tell("R1 draws C2.1 1.5kg\nclose R1 -> flake 1kg")
    assert told.composition("R1.1") == {"C1": 200_000, "C2": 600_000}


def test_two_draws_of_one_lot_are_kept_as_one(told: Told):
    told.tell("open R1 shred C1.1 1kg\nR1 draws C1.1 500g, C1.2 all")
    masses = told.run("R1").draws.order_by("pk").values_list("mass_mg", flat=True)
    assert list(masses) == [1_500_000, 3_000_000]


def test_a_run_does_not_draw_what_it_gave(told: Told):
    told.tell("open R1 shred C1.1 1kg\nR1 gives flake 500g, oversize 300g")
    with refused("lot-own-output", pointer="/inputs/0/lot"):
        told.tell("R1 draws R1.2 300g")


def test_no_run_draws_what_descends_from_it(told: Told):
    told.tell("open R1 shred C1.1 1kg\nR1 gives flake 500g, oversize 300g")
    told.tell("open R2 shred R1.2 200g\nR2 gives oversize 50g")
    with refused("lot-own-output", pointer="/inputs/0/lot", says="descends from"):
        told.tell("R1 draws R2.1 50g")
    told.tell("R3 shred R2.1 50g -> oversize 40g")
    with refused("lot-own-output"):
        told.tell("R1 draws R3.1 10g")
    told.tell("close R1\nclose R2")


def test_no_correction_closes_a_circle(told: Told):
    told.tell("open R1 shred C1.1 1kg\nopen R2 shred C1.2 1kg\nR2 gives oversize 500g")
    told.tell("R1 draws R2.1 100g\nR1 gives oversize 400g")
    draw = told.posting("R1", "R2.1")
    told.correct(draw, "0g")
    told.tell("R2 draws R1.1 50g")
    with refused("lot-own-output", says="descends from"):
        told.correct(draw, "100g")
    told.correct(told.posting("R2", "R1.1"), "0g")
    told.correct(draw, "100g")


def test_the_polymer_follows_from_what_is_worked_on_not_from_the_heel(told: Told):
    told.tell("open R1 extrude on extruder: O1.3 500g")
    assert told.run("R1").polymer == ""
    assert told.on_hand("O1.2") == 0  # the old heel was taken in
    told.tell("R1 gives changeover scrap 300g HDPE\nR1 draws O1.1 2kg\nR1 gives filament 1kg spool")
    assert told.run("R1").polymer == "PET"
    told.tell("close R1 -> filament 1kg, heel 60g, ~volatiles 4g")
    assert told.lot("R1.heel").polymer == "PET"
    assert told.border("unaccounted") == 40_000 + 500_000 + 2 * KG - 300_000 - 2 * KG - 64_000
    assert told.border("unaccounted", "") == 0


def test_a_run_of_purge_alone_is_closed_under_the_purge(told: Told):
    told.tell("open R1 extrude on extruder: O1.3 500g\nR1 loses ~volatiles 1g")
    told.tell("close R1 -> changeover scrap 400g purge, heel 60g")
    assert told.run("R1").polymer == "purge"
    assert told.border("volatiles", "purge") == 1_000
    assert told.border("unaccounted", "purge") == 79_000
    assert told.lot("R1.heel").polymer == "purge"


def test_a_heel_is_not_added_as_an_output(told: Told):
    told.tell("open R1 extrude on extruder: O1.1 1kg")
    with refused("heel-as-output", pointer="/outputs/0/form"):
        run_output_add(told.actor, told.code("R1"), [OutputEntry("heel", 60_000)])


def test_a_blend_needs_two_lots_by_its_end(told: Told):
    told.tell("C3: flake PET 1kg\nopen R1 blend O1.5 500g")
    with refused("inputs-missing", pointer="/inputs", says="at least 2 lots"):
        told.tell("close R1 -> flake 500g")
    told.tell("R1 draws C3.1 500g\nclose R1 -> flake 1kg")


def test_a_form_that_stays_is_held_in_open_runs_too(told: Told):
    told.tell("open R1 wash C1.1 1kg")
    with refused("form-wrong", pointer="/outputs/0/form"):
        told.tell("R1 gives flake 900g")
    told.tell("R1 draws O1.5 100g\nR1 gives flake 90g\nR1 gives clean bottles 900g")


def test_refills_given_at_the_start_are_kept(told: Told):
    code = told.code("O1.1")
    entry = RunEntry(
        "extrude",
        told.now,
        machine="extruder",
        inputs=(DrawEntry(code, KG),),
        feeds=(FeedEntry(told.now, code, 400_000), FeedEntry(told.now, code, 600_000)),
    )
    result = run_open(told.actor, entry)
    feeds = Feed.objects.filter(run__code=result.code).order_by("pk")
    assert list(feeds.values_list("mass_mg", flat=True)) == [400_000, 600_000]


def test_what_happens_is_logged_with_its_time(told: Told):
    told.tell("open R1 dry O1.5 500g")
    at = told.now + timedelta(minutes=20)
    settings = (SettingEntry("set_c", "160", at), SettingEntry("real_c", "158,5", at, "slow"))
    run_log(told.actor, told.code("R1"), settings=settings)
    run_log(told.actor, told.code("R1"), (CheckEntry("kept", "sealed"),))
    run = told.run("R1")
    kept = run.settings_log.order_by("pk").values_list("key", "value", "happened_at", "seen")
    assert list(kept) == [("set_c", "160", at, ""), ("real_c", "158,5", at, "slow")]
    assert [check.value for check in run.checks.all()] == ["sealed"]
    with refused("nothing-given"):
        run_log(told.actor, told.code("R1"))
    with refused("before-start", pointer="/settings/0/at"):
        run_log(told.actor, told.code("R1"), settings=(SettingEntry("set_c", "1", START),))
    with refused("field-unknown", pointer="/checks/0/key"):
        run_log(told.actor, told.code("R1"), (CheckEntry("colour", "blue"),))


def test_a_required_check_noted_on_the_way_is_not_asked_for_again(told: Told, monkeypatch):
    from recycling import stages
    from recycling.stages.fields import Field

    dry = replace(stages.dry.STAGE, checks=(Field("kept", "Kept", "text", required=True),))
    others = [one for one in stages.STAGES if one.key != "dry"]
    monkeypatch.setattr(stages, "STAGES", [*others, dry])
    told.tell("open R1 dry O1.5 500g")
    with refused("value-missing", pointer="/checks/kept"):
        run_close(told.actor, told.code("R1"), told.now)
    run_log(told.actor, told.code("R1"), (CheckEntry("kept", "sealed"),))
    run_close(told.actor, told.code("R1"), told.now)


def test_what_cannot_be_opened_says_why(told: Told):
    now, lot = told.now, told.code("C1.1")
    for stage in ("dispatch", "discard", "count", "receive"):
        with refused("recorded-whole", pointer="/stage"):
            run_open(told.actor, RunEntry(stage, now))
    for more in (
        {"ended_at": now},
        {"outputs": (OutputEntry("flake", 1),)},
        {"losses": (LossEntry("dust", 1),)},
        {"heel": HeelEntry(1)},
    ):
        with refused("open-with-end", pointer="/state"):
            run_open(told.actor, RunEntry("shred", now, **more))
    with refused("machine-missing", pointer="/machine"):
        run_open(told.actor, RunEntry("extrude", now))
    with refused("stage-unknown", pointer="/stage"):
        run_open(told.actor, RunEntry("melt", now))
    with refused("lot-overdrawn"):
        run_open(told.actor, RunEntry("shred", now, inputs=(DrawEntry(lot, 9 * KG),)))


def test_what_an_open_run_refuses_says_why(told: Told):
    told.tell("open R1 shred C1.1 1kg")
    actor, code, now = told.actor, told.code("R1"), told.now
    with refused("form-wrong", pointer="/inputs/0/lot", says="heel"):
        run_draw(actor, code, [DrawEntry(told.code("O1.2"), 1)], now)
    with refused("nothing-given"):
        run_output_add(actor, code, [], now)
    with refused("nothing-given"):
        run_loss_add(actor, code, [], now)
    with refused("loss-wrong", pointer="/losses/0/account"):
        run_loss_add(actor, code, [LossEntry("water", 1)], now)
    how = WeighingEntry(scale="none such")
    with refused("scale-unknown", pointer="/outputs/0/weighing/scale"):
        run_output_add(actor, code, [OutputEntry("flake", 1, weighing=how)], now)
    with refused("scale-unknown", pointer="/inputs/0/weighing/scale"):
        run_draw(actor, code, [DrawEntry(told.code("C1.1"), 1, weighing=how)], now)
    for at, problem in (
        (now - timedelta(hours=1), "before-start"),
        (timezone.now().replace(year=2100), "time-in-future"),
        (datetime(2024, 1, 9), "time-without-offset"),
        (START.replace(year=1969), "time-too-early"),
    ):
        with refused(problem, pointer="/at"):
            run_draw(actor, code, [DrawEntry(told.code("C1.1"), 1)], at)
    run_draw(actor, code, [DrawEntry(told.code("C1.1"), 1)], now + timedelta(hours=1))
    with refused("end-before-entries", pointer="/ended_at"):
        run_close(actor, code, now)


def test_nothing_is_given_before_something_was_drawn(told: Told):
    told.tell("open R1 shred")
    with refused("inputs-missing"):
        told.tell("R1 gives flake 1kg")
    with refused("inputs-missing"):
        told.tell("R1 loses ~dust 1g")
    with refused("inputs-missing"):
        told.tell("close R1")
    told.tell("void R1")


def test_a_closed_run_takes_no_more(told: Told):
    told.tell("open R1 shred C1.1 1kg\nclose R1 -> flake 1kg")
    for line in ("R1 draws C1.1 1kg", "R1 gives flake 1g", "R1 loses ~dust 1g", "close R1"):
        with refused("run-not-open") as said:
            told.tell(line)
        assert said[0].status == 409
    with refused("run-not-open"):
        run_log(told.actor, told.code("R1"), (CheckEntry("pass_number", "1"),))


def test_a_run_that_starts_within_the_clocks_slack_can_be_voided_and_closed(told: Told):
    ahead = timezone.now() + timedelta(minutes=4)
    draw = (DrawEntry(told.code("C1.1"), KG),)
    first = run_open(told.actor, RunEntry("shred", ahead, inputs=draw))
    run_void(told.actor, first.code, "opened twice")
    second = run_open(told.actor, RunEntry("shred", ahead, inputs=draw))
    run_close(told.actor, second.code)
    assert Run.objects.get(code=second.code).ended_at == ahead


def test_a_machine_that_keeps_a_heel_has_one_open_run_at_a_time():
    told = tell("C1: dried flake PET 5kg\nopen R1 extrude C1.1 1kg")
    machine = told.run("R1").machine.name
    entry = RunEntry(
        "extrude",
        told.now,
        machine=machine,
        inputs=(DrawEntry(told.code("C1.1"), 500_000),),
    )
    with refused("machine-busy", pointer="/machine"):
        run_open(told.actor, entry)
    told.tell("close R1 -> filament 900g, heel 60g")
    again = replace(entry, started_at=told.now)
    assert run_open(told.actor, again).code
