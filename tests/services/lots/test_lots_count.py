"""Counts: a lot is set to what was found, and stands when earlier news arrive."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.models import Counted, Weighing
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import CountEntry, WeighingEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.lots.lots_count import lots_count
from tests.factories import START, ScaleFactory
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    told = tell("C1: flake PET 5kg, 3kg\nP1: caps HDPE 1kg")
    yield told
    assert audit(told.actor.workshop_id) == []


def count(told: Told, hour: float, *counts: CountEntry, **more: object):
    at = START + timedelta(hours=hour)
    return lots_count(told.actor, RunEntry("count", at, at, counts=counts, **more))


def test_the_difference_is_unaccounted_under_each_polymer(told: Told):
    result = count(
        told,
        5,
        CountEntry(told.code("C1.1"), 4_900_000),
        CountEntry(told.code("P1.1"), 1_050_000),
        CountEntry(told.code("C1.2"), 3_000_000),
    )
    assert result.unaccounted_mg == 50_000
    assert told.border("unaccounted") == 100_000
    assert told.border("unaccounted", "HDPE") == -50_000
    assert told.on_hand("C1.1") == 4_900_000
    assert Counted.objects.count() == 3


def test_a_count_that_agrees_posts_nothing_and_is_kept(told: Told):
    count(told, 5, CountEntry(told.code("C1.1"), 5_000_000))
    assert Counted.objects.get().mass_mg == 5_000_000
    assert told.border("unaccounted") == 0


@pytest.mark.parametrize("mass", ["1kg", "4.9kg"])
def test_a_count_stands_when_an_earlier_draw_arrives(told: Told, mass):
    told.tell(f"count R1: C1.1 4.9kg @9\nR2 dry C1.1 {mass} -> dried flake 900g @5")
    assert told.on_hand("C1.1") == 4_900_000


def test_a_count_stands_when_the_bag_is_corrected(told: Told):
    told.tell("count R1: C1.1 4.9kg @9")
    told.correct(told.posting("C1.run", "C1.1"), "6kg")
    assert told.on_hand("C1.1") == 4_900_000
    assert told.border("unaccounted") == 1_100_000
    told.correct(told.posting("C1.run", "C1.1"), "4kg")
    assert told.on_hand("C1.1") == 4_900_000
    assert told.border("unaccounted") == -900_000


def test_the_first_count_after_the_news_takes_up_the_difference(told: Told):
    told.tell("count R1: C1.1 4.9kg @9\ncount R2: C1.1 4.8kg @19")
    told.tell("R3 dry C1.1 100g -> dried flake 90g @5")
    told.tell("R4 dry C1.1 200g -> dried flake 190g @12")
    assert told.on_hand("C1.1") == 4_800_000
    told.tell("void R2")
    assert told.on_hand("C1.1") == 4_700_000
    told.tell("void R1")
    assert told.on_hand("C1.1") == 4_700_000
    assert told.border("unaccounted") == 20_000


def test_a_count_before_a_later_count_leaves_that_one_standing(told: Told):
    told.tell("count R1: C1.1 4.8kg @19\ncount R2: C1.1 4.95kg @9")
    assert told.on_hand("C1.1") == 4_800_000
    told.tell("void R2")
    assert told.on_hand("C1.1") == 4_800_000


def test_news_after_a_count_change_what_is_on_hand(told: Told):
    told.tell("count R1: C1.1 4.9kg @9\nR2 dry C1.1 1kg -> dried flake 1kg @9.5")
    assert told.on_hand("C1.1") == 3_900_000


def test_a_count_is_refused_when_later_draws_need_more(told: Told):
    told.tell("R1 dry C1.1 4kg -> dried flake 4kg @20")
    with refused("lot-overdrawn", says="1.000 kg below zero at 2024-01-09 04:00 UTC"):
        count(told, 9, CountEntry(told.code("C1.1"), 3_000_000))


def test_a_count_keeps_how_it_was_weighed(told: Told):
    ScaleFactory(actor=told.actor, name="Bench")
    how = WeighingEntry(gross_mg=5_400_000, tare_mg=500_000, scale="Bench")
    count(told, 5, CountEntry(told.code("C1.1"), 4_900_000, how))
    kept = Weighing.objects.get()
    assert (kept.gross_mg, kept.tare_mg, kept.scale.name) == (5_400_000, 500_000, "Bench")
    assert kept.posting.account_id == told.lot("C1.1").pk


def test_a_lot_cannot_be_counted_before_it_was_there(told: Told):
    with refused("count-too-early", pointer="/counts/0/lot"):
        count(told, -1, CountEntry(told.code("C1.1"), 1_000_000))
    told.tell("open R1 dry C1.2 1kg @9\nR1 gives dried flake 500g @12")
    with refused("count-too-early"):
        count(told, 11, CountEntry(told.code("R1.1"), 1_000_000))
    count(told, 12, CountEntry(told.code("R1.1"), 490_000))


def test_a_lot_of_a_voided_run_cannot_be_counted(told: Told):
    told.tell("R1 dry C1.1 4kg -> dried flake 4kg\nvoid R1")
    with refused("run-void", pointer="/counts/0/lot"):
        count(told, 9, CountEntry(told.code("R1.1"), 1_000_000))


def test_what_is_no_count_says_why(told: Told):
    lot = told.code("C1.1")
    with refused("counts-missing", pointer="/counts"):
        count(told, 5)
    with refused("lot-twice", pointer="/counts/1/lot"):
        count(told, 5, CountEntry(lot, 1), CountEntry(lot.lower(), 2))
    with refused("lot-unknown", pointer="/counts/0/lot"):
        count(told, 5, CountEntry("L999-1", 1))
    with refused("mass-not-positive", pointer="/counts/0/mass_mg"):
        count(told, 5, CountEntry(lot, -1))
    with refused("gross-net-differ", pointer="/counts/0/weighing/gross_mg"):
        count(told, 5, CountEntry(lot, 5, WeighingEntry(gross_mg=10, tare_mg=4)))
    with refused("scale-unknown", pointer="/counts/0/weighing/scale"):
        count(told, 5, CountEntry(lot, 5, WeighingEntry(scale="none such")))
    with refused("end-missing", pointer="/ended_at"):
        lots_count(told.actor, RunEntry("count", told.now, counts=(CountEntry(lot, 5),)))
    from recycling.records.lots.mass_entries import DrawEntry

    with refused("count-only", pointer="/counts"):
        count(told, 5, CountEntry(lot, 5), inputs=(DrawEntry(lot, 5),))
