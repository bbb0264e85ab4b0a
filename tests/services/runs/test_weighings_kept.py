"""Losses and counts keep their weighing, and counted pieces their sample."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from recycling.models import Weighing
from recycling.queries.runs.runs import run_page
from recycling.records.balance.known_masses import SampleEntry
from recycling.records.lots.mass_entries import (
    CountEntry,
    DrawEntry,
    LossEntry,
    OutputEntry,
    WeighingEntry,
)
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.balance.samples import sample_add
from recycling.services.lots.lots_count import lots_count
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.run_open import run_draw, run_loss_add, run_open
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START, G, ScaleFactory
from tests.histories import tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
READ = WeighingEntry("weighed", 1_300 * G, 1_200 * G, "bench", raw="ST,GS,+1.300kg")


def shop():
    told = tell("")
    ScaleFactory(actor=told.actor, name="bench", interval_mg=1 * G)
    return told.tell("C1: flake PET 5kg")


def drying(told, *losses: LossEntry, **changed) -> RunEntry:
    told._machine("oven", "dryer")
    at = told.now + timedelta(hours=1)
    entry = {
        "ended_at": at + timedelta(hours=1),
        "outputs": (OutputEntry("dried flake", 900 * G),),
        "losses": losses,
    }
    inputs = (DrawEntry(told.code("C1.1"), 1 * KG),)
    return RunEntry("dry", at, machine="oven", inputs=inputs, **(entry | changed))


def test_a_loss_keeps_its_own_weighing():
    told = shop()
    run = run_record(told.actor, drying(told, LossEntry("water", 100 * G, "caught", READ)))
    kept = Weighing.objects.get(posting__account__name="water")
    assert (kept.gross_mg, kept.tare_mg, kept.scale.name, kept.raw, kept.reader, kept.note) == (
        1_300 * G,
        1_200 * G,
        "bench",
        "ST,GS,+1.300kg",
        told.actor.reference,
        "caught",
    )
    (shown,) = [one for one in run_page(told.actor, run.code).figures if one.account == "water"]
    assert (shown.basis, shown.scale, shown.raw) == ("scale", "bench", "ST,GS,+1.300kg")


def test_a_loss_of_an_open_run_keeps_it_too():
    told = shop()
    opened = run_open(told.actor, drying(told, ended_at=None, outputs=()))
    later = told.now + timedelta(hours=2)
    run_loss_add(told.actor, opened.code, [LossEntry("water", 100 * G, weighing=READ)], later)
    assert Weighing.objects.get(posting__account__name="water").scale.name == "bench"


def test_an_estimated_loss_is_as_sure_as_an_estimate():
    told = shop()
    run = run_record(told.actor, drying(told, LossEntry("water", 100 * G, "estimated")))
    (shown,) = [one for one in run_page(told.actor, run.code).figures if one.account == "water"]
    assert (shown.how, shown.u_mg) == ("estimated", pytest.approx(20 * G))


@pytest.mark.parametrize(
    ("weighing", "code", "pointer"),
    [
        (WeighingEntry(gross_mg=1 * KG), "gross-net-differ", "/losses/0/weighing/gross_mg"),
        (WeighingEntry(scale="moon"), "scale-unknown", "/losses/0/weighing/scale"),
        (WeighingEntry("guessed"), "how-unknown", "/losses/0/weighing/how"),
    ],
)
def test_what_is_wrong_with_the_weighing_of_a_loss_names_its_place(weighing, code, pointer):
    told = shop()
    with refused(code, pointer=pointer):
        run_record(told.actor, drying(told, LossEntry("water", 100 * G, weighing=weighing)))


@pytest.mark.parametrize("found_mg", [5_000 * G, 4_990 * G])
def test_a_count_keeps_its_weighing_whether_it_agrees_or_not(found_mg):
    told = shop()
    at = told.now + timedelta(hours=1)
    how = WeighingEntry("weighed", found_mg + 200 * G, 200 * G, "bench", raw="as sent")
    count = CountEntry(told.code("C1.1"), found_mg, how)
    run = lots_count(told.actor, RunEntry("count", at, at, counts=(count,)))
    kept = Weighing.objects.get(counted__run__code=run.code)
    assert (kept.scale.name, kept.gross_mg, kept.raw) == ("bench", found_mg + 200 * G, "as sent")
    assert (kept.posting is None) == (found_mg == 5_000 * G)
    (line,) = run_page(told.actor, run.code).counts
    assert (line.difference_mg, line.scale, line.tare_mg, line.raw) == (
        found_mg - 5_000 * G,
        "bench",
        200 * G,
        "as sent",
    )


def counted(told, **more):
    bag = BagEntry(0, count=40, weighing=WeighingEntry(**more))
    return origin_record(told.actor, OriginEntry("purchase", START, (bag,)))


def test_counted_pieces_weigh_what_their_sample_says():
    told = shop()
    for name, masses in (("half litre", (24 * G, 26 * G)), ("litre", (40 * G, 42 * G))):
        sample_add(told.actor, SampleEntry(name, masses))
    (lot,) = counted(told, sample="litre").lots
    assert lot.mass_mg == 40 * 41 * G
    kept = Weighing.objects.get(posting__account__lot__code=lot.code)
    assert (kept.how, kept.sample.name) == ("counted", "litre")
    with refused("sample-missing", pointer="/bags/0/weighing/sample"):
        counted(told)
    with refused("sample-unknown", pointer="/bags/0/weighing/sample"):
        counted(told, sample="moon")


def test_the_only_sample_is_meant_where_none_is_named():
    told = shop()
    sample_add(told.actor, SampleEntry("half litre", (24 * G, 26 * G)))
    assert counted(told).lots[0].mass_mg == 40 * 25 * G


def test_pieces_that_a_run_gave_are_counted_too():
    told = tell("C1: bottles PET 10kg")
    sample_add(told.actor, SampleEntry("half litre", (24 * G, 26 * G)))
    at = told.now + timedelta(hours=1)
    sorted_out = OutputEntry("clean bottles", 0, count=100)
    inputs = (DrawEntry(told.code("C1.1"), 3 * KG),)
    run = run_record(told.actor, RunEntry("sort", at, at, inputs=inputs, outputs=(sorted_out,)))
    assert [lot.mass_mg for lot in run.lots] == [2_500 * G]


def test_what_is_taken_whole_was_not_on_the_scale_and_is_not_doubted():
    told = shop()
    small = WeighingEntry(scale="small")
    ScaleFactory(actor=told.actor, name="small", interval_mg=1 * G, capacity_mg=1 * KG)
    lot, at = told.code("C1.1"), told.now + timedelta(hours=1)
    part, whole = DrawEntry(lot, 3 * KG, weighing=small), DrawEntry(lot, all=True, weighing=small)
    run = run_open(told.actor, RunEntry("dry", at))
    (doubt,) = run_draw(told.actor, run.code, [part], at).doubts
    assert "above the capacity" in str(doubt)
    other = run_open(told.actor, RunEntry("dry", at))
    assert run_draw(told.actor, other.code, [whole], at).doubts == ()
    told = told.tell("C2: flake PET 5kg")
    inputs = (DrawEntry(told.code("C2.1"), all=True, weighing=small),)
    assert run_record(told.actor, replace(drying(told), inputs=inputs)).doubts == ()
