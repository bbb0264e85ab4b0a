"""Every mistake that can be made in a whole run, and its answer."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from recycling.models import Lot
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import (
    CountEntry,
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
    WeighingEntry,
)
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.services.runs.run_record import run_record
from shared.errors import Refused
from tests.factories import KG, G, MachineFactory, MemberFactory, with_scope
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


REFUSALS: list[tuple[str, str, str, dict[str, Any]]] = [
    ("stage-unknown", "/stage", "melt", {}),
    ("stage-of-its-own", "/stage", "receive", {}),
    ("stage-of-its-own", "/stage", "count", {}),
    ("end-missing", "/ended_at", "sort", {"ended_at": None}),
    ("inputs-missing", "/inputs", "sort", {"inputs": ()}),
    ("inputs-missing", "/inputs", "blend", {"inputs": [("O1.5", KG)]}),
    ("lot-unknown", "/inputs/0/lot", "sort", {"inputs": [("L999-1", 5)]}),
    ("lot-unknown", "/inputs/0/lot", "sort", {"inputs": [("", 5)]}),
    ("lot-twice", "/inputs/1/lot", "sort", {"inputs": [("C1.1", 5), ("C1.1", 6)]}),
    ("form-wrong", "/inputs/0/lot", "shred", {"inputs": [("O1.2", 5)]}),
    ("mass-missing", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", None)]}),
    ("mass-not-positive", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", 0)]}),
    ("mass-not-positive", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", -5)]}),
    ("mass-too-large", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", 2**63)]}),
    ("mass-not-whole", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", 1.5)]}),
    ("mass-not-whole", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", float("nan"))]}),
    ("mass-not-whole", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", True)]}),
    ("lot-overdrawn", "/inputs/0/mass_mg", "sort", {"inputs": [("C1.1", 5 * KG + 1)]}),
    ("polymer-wrong", "/polymer", "sort", {"inputs": [("C1.1", 5)], "polymer": "HDPE"}),
    ("form-wrong", "/outputs/0/form", "wash", {"outputs": [OutputEntry("flake", 5)]}),
    (
        "polymer-wrong",
        "/outputs/0/polymer",
        "wash",
        {"outputs": [OutputEntry("clean bottles", 5, "HDPE")]},
    ),
    ("form-wrong", "/outputs/0/form", "sort", {"outputs": [OutputEntry("flake", 5)]}),
    ("form-wrong", "/outputs/0/form", "sort", {"outputs": [OutputEntry("gold", 5)]}),
    (
        "mass-not-positive",
        "/outputs/0/mass_mg",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 0)]},
    ),
    (
        "role-wrong",
        "/outputs/0/role",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, role="side")]},
    ),
    (
        "role-wrong",
        "/outputs/0/role",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, role="returned")]},
    ),
    ("polymer-missing", "/outputs/0/polymer", "sort", {"outputs": [OutputEntry("caps", 5)]}),
    (
        "polymer-unknown",
        "/outputs/0/polymer",
        "sort",
        {"outputs": [OutputEntry("caps", 5, "unobtainium")]},
    ),
    (
        "spool-wrong",
        "/outputs/0/spool",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, spool=SpoolEntry())]},
    ),
    (
        "count-wrong",
        "/outputs/0/count",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, count=0)]},
    ),
    (
        "text-too-long",
        "/outputs/0/colour",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, colour="x" * 41)]},
    ),
    (
        "text-too-long",
        "/outputs/0/note",
        "sort",
        {"outputs": [OutputEntry("clean bottles", 5, note="x" * 501)]},
    ),
    ("form-wrong", "/outputs/0/form", "dispatch", {"outputs": [OutputEntry("filament", 5)]}),
    ("loss-wrong", "/losses/0/account", "sort", {"losses": [LossEntry("dust", 5)]}),
    ("loss-wrong", "/losses/0/account", "sort", {"losses": [LossEntry("unaccounted", 5)]}),
    ("mass-not-positive", "/losses/0/mass_mg", "sort", {"losses": [LossEntry("residue", -5)]}),
    ("mass-not-positive", "/losses/0/mass_mg", "wash", {"losses": [LossEntry("water", 0)]}),
    ("mass-not-whole", "/losses/0/mass_mg", "wash", {"losses": [LossEntry("water", -1.5)]}),
    ("text-too-long", "/losses/0/how", "sort", {"losses": [LossEntry("residue", 5, "x" * 301)]}),
    ("heel-wrong", "/heel", "sort", {"heel": HeelEntry(5)}),
    ("heel-wrong", "/heel", "dispatch", {"heel": HeelEntry(5)}),
    ("machine-unknown", "/machine", "shred", {"machine": "none such"}),
    ("machine-wrong", "/machine", "shred", {"machine": "extruder"}),
    ("count-only", "/counts", "sort", {"counts": [CountEntry("C1.1", 5)]}),
    ("member-unknown", "/operators/1", "sort", {"operators": ("Ada", "Nobody")}),
    ("field-unknown", "/checks/0/key", "sort", {"checks": [CheckEntry("luck", "good")]}),
    (
        "choice-wrong",
        "/checks/0/value",
        "sort",
        {"checks": [CheckEntry("adhesive_method", "teeth")]},
    ),
    ("value-missing", "/checks/0/value", "sort", {"checks": [CheckEntry("adhesive_method", " ")]}),
    ("field-unknown", "/settings/0/key", "sort", {"settings": [SettingEntry("heat", "9")]}),
    ("polymer-unknown", "/polymer", "dispatch", {"polymer": "unobtainium"}),
    ("text-too-long", "/note", "sort", {"note": "x" * 501}),
    ("text-unreadable", "/note", "sort", {"note": "a\x00b"}),
    (
        "how-unknown",
        "/inputs/0/weighing/how",
        "sort",
        {"inputs": [("C1.1", 5, WeighingEntry("guessed"))]},
    ),
    (
        "gross-net-differ",
        "/inputs/0/weighing/gross_mg",
        "sort",
        {"inputs": [("C1.1", 5, WeighingEntry(gross_mg=9, tare_mg=3))]},
    ),
    (
        "scale-unknown",
        "/inputs/0/weighing/scale",
        "sort",
        {"inputs": [("C1.1", 5, WeighingEntry(scale="none such"))]},
    ),
    (
        "text-too-long",
        "/inputs/0/weighing/note",
        "sort",
        {"inputs": [("C1.1", 5, WeighingEntry(note="x" * 301))]},
    ),
    (
        "mass-not-positive",
        "/inputs/0/weighing/tare_mg",
        "sort",
        {"inputs": [("C1.1", 5, WeighingEntry(tare_mg=-1))]},
    ),
]


@pytest.mark.parametrize(
    ("code", "pointer", "stage", "more"),
    REFUSALS,
    ids=[f"{code} {stage}{pointer.replace('/', ' ')}" for code, pointer, stage, _ in REFUSALS],
)
def test_each_mistake_has_its_own_answer(told: Told, code, pointer, stage, more):
    usual = {"shred": "O1.4", "wash": "O1.4", "dispatch": "O1.6"}.get(stage, "C1.1")
    given = {"inputs": [(usual, 5)]} | more
    given["inputs"] = tuple(
        DrawEntry(told.code(lot), mass, weighing=how[0] if how else WeighingEntry())
        for lot, mass, *how in given["inputs"]
    )
    for name in ("outputs", "losses", "checks", "settings", "counts"):
        given[name] = tuple(given.get(name, ()))
    if stage == "dispatch":
        given["checks"] = (CheckEntry("receiver", "Makers"),)
    with refused(code, pointer=pointer):
        run_record(told.actor, entry(told, stage, **given))


def test_all_and_a_mass_is_too_much(told: Told):
    with refused("mass-and-all", pointer="/inputs/0/mass_mg"):
        run_record(told.actor, entry(told, "sort", inputs=(draw(told, "C1.1", 5, all=True),)))


def test_a_whole_draw_is_checked_for_how_it_was_weighed(told: Told):
    for how, code, pointer in (
        (WeighingEntry("a guess, no more"), "how-unknown", "how"),
        (WeighingEntry(gross_mg=5 * KG, tare_mg=5), "gross-net-differ", "gross_mg"),
    ):
        with refused(code, pointer=f"/inputs/0/weighing/{pointer}"):
            whole = draw(told, "C1.1", all=True, weighing=how)
            run_record(told.actor, entry(told, "sort", inputs=(whole,)))


def test_a_used_up_lot_is_said_to_be(told: Told):
    told.tell("R1 sort C1.1 all -> clean bottles 4kg")
    with refused("lot-used-up", pointer="/inputs/0/lot"):
        told.tell("R2 sort C1.1 all -> clean bottles 1g")
    with refused("lot-overdrawn", says="now it has 0 g"):
        told.tell("R2 sort C1.1 1g -> clean bottles 1g")


def test_required_notes_are_asked_for(told: Told):
    with refused("value-missing", "value-missing"):
        run_record(told.actor, entry(told, "discard", inputs=(draw(told, "C1.1", 5),)))


def test_heels_are_given_as_heels(told: Told):
    more = {"machine": "extruder", "inputs": (draw(told, "O1.1", KG),)}
    with refused("heel-as-output", pointer="/outputs/0/form"):
        outputs = (OutputEntry("heel", 60 * G),)
        run_record(told.actor, entry(told, "extrude", outputs=outputs, **more))
    with refused("mass-not-positive", pointer="/heel/mass_mg"):
        run_record(told.actor, entry(told, "extrude", heel=HeelEntry(0), **more))
    with refused("polymer-unknown", pointer="/heel/polymer"):
        run_record(told.actor, entry(told, "extrude", heel=HeelEntry(5, "gold"), **more))
    with refused("machine-missing", pointer="/machine"):
        run_record(told.actor, entry(told, "extrude", inputs=more["inputs"]))


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        ("shred", "Shred needs a machine of the kind shredder; Dryer is of the kind dryer."),
        ("sort", "Sort uses no machine."),
    ],
)
def test_a_stage_takes_no_machine_of_another_kind(told: Told, stage, says):
    MachineFactory(actor=told.actor, name="Dryer", kind="dryer")
    with pytest.raises(Refused) as refusal:
        run_record(told.actor, entry(told, stage, machine="Dryer"))
    about = [one.detail for one in refusal.value.problems if one.code == "machine-wrong"]
    assert about == [says]


@pytest.mark.parametrize(
    ("feeds", "code", "pointer"),
    [
        ([("O1.1", 600), ("O1.1", 401)], "fed-more-than-drawn", "/feeds/1/mass_mg"),
        ([("O1.3", 5)], "fed-more-than-drawn", "/feeds/0/mass_mg"),
        ([("L999-1", 0)], "lot-unknown", "/feeds/0/lot"),
        ([("O1.1", -5)], "mass-not-positive", "/feeds/0/mass_mg"),
        ([("O1.1", 0)], "mass-not-positive", "/feeds/0/mass_mg"),
    ],
    ids=str,
)
def test_refills_are_of_what_the_run_draws(told: Told, feeds, code, pointer):
    feeds = tuple(FeedEntry(told.now, told.code(lot), mass) for lot, mass in feeds)
    inputs = (draw(told, "O1.1", 1000),)
    with refused(code, pointer=pointer):
        run_record(
            told.actor, entry(told, "extrude", machine="extruder", inputs=inputs, feeds=feeds)
        )


NOT_NUMBERS = ("abc", "-1", "nan", "1_0", "５", "101", "1e9")


@pytest.mark.parametrize(
    ("value", "code"),
    [*((value, "number-out-of-bounds") for value in NOT_NUMBERS), ("1" * 121, "text-too-long")],
)
def test_noted_numbers_are_numbers_within_their_bounds(told: Told, value, code):
    MachineFactory(actor=told.actor, name="Mill", kind="shredder")
    checks = (CheckEntry("largest_mm", value),)
    with pytest.raises(Exception) as caught:
        inputs = (draw(told, "O1.4", 5),)
        run_record(told.actor, entry(told, "shred", inputs=inputs, checks=checks))
    assert code in {problem.code for problem in caught.value.problems}


def test_times_must_be_real_and_in_order(told: Told):
    now, inputs = told.now, (draw(told, "C1.1", 5),)
    naive = datetime(2024, 1, 9, 8)
    ahead = timezone.now().replace(year=2100)
    for times, code, pointer in (
        ({"started_at": naive}, "time-without-offset", "/started_at"),
        ({"ended_at": naive}, "time-without-offset", "/ended_at"),
        ({"ended_at": ahead}, "time-in-future", "/ended_at"),
        ({"started_at": now.replace(year=1969)}, "time-too-early", "/started_at"),
        ({"started_at": now + timedelta(hours=1)}, "end-before-start", "/ended_at"),
    ):
        with refused(code, pointer=pointer):
            run_record(told.actor, entry(told, "sort", inputs=inputs, **times))
    checks = (CheckEntry("adhesive_method", "none", at=naive),)
    with refused("time-without-offset", pointer="/checks/0/at"):
        run_record(told.actor, entry(told, "sort", inputs=inputs, checks=checks))


def test_all_problems_are_said_at_once_in_the_order_of_the_fields(told: Told):
    with refused("lot-unknown", "form-wrong", "loss-wrong", "field-unknown"):
        run_record(
            told.actor,
            entry(
                told,
                "sort",
                inputs=(DrawEntry("L1-1", 5), draw(told, "C1.1", 5)),
                outputs=(OutputEntry("flake", 5),),
                losses=(LossEntry("dust", 5),),
                checks=(CheckEntry("luck", "good"),),
            ),
        )


def test_a_mistyped_code_is_told_from_an_unknown_one(told: Told):
    right = told.code("C1.1")
    wrong = right[:-1] + ("A" if right[-1] != "A" else "B")
    with refused("lot-unknown", says="check character does not fit"):
        run_record(told.actor, entry(told, "sort", inputs=(DrawEntry(wrong, 5),)))


def test_another_workshops_things_are_unknown_here(told: Told):
    strange = tell("C1: bottles PET 1kg\nC2: bottles PET 7kg\nR1 sort C1.1 1kg -> caps HDPE 9g")
    MemberFactory(actor=strange.actor, name="Zoe")
    machine = MachineFactory(actor=strange.actor, name="Mill", kind="shredder")
    far = next(c for c in strange.codes.values() if not Lot.objects.filter(
        workshop_id=told.actor.workshop_id, code=c) and c[0] == "L")  # fmt: skip
    with refused("lot-unknown"):
        run_record(told.actor, entry(told, "sort", inputs=(DrawEntry(far, 5),)))
    with refused("member-unknown"):
        inputs = (draw(told, "C1.1", 5),)
        run_record(told.actor, entry(told, "sort", inputs=inputs, operators=("Zoe",)))
    for name in ("Mill", str(machine)):
        with refused("machine-unknown"):
            inputs = (draw(told, "O1.4", 5),)
            run_record(told.actor, entry(told, "shred", inputs=inputs, machine=name))


def test_who_may_not_record_is_refused(told: Told):
    for actor in (with_scope(told.actor, "read"), with_scope(told.actor, role="viewer")):
        with refused("not-allowed") as said:
            run_record(actor, entry(told, "sort", inputs=(draw(told, "C1.1", 5),)))
        assert said[0].status == 403
