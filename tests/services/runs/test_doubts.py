"""A figure that is likely a slip is asked about once; nothing is refused, and the answer stays."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.models import FigureDoubt
from recycling.records.lots.mass_entries import (
    DrawEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
    WeighingEntry,
)
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.runs.entries import CheckEntry, RunEntry
from recycling.services.lots.origin_record import origin_record
from recycling.services.runs.run_close import run_close
from recycling.services.runs.run_open import run_draw, run_loss_add, run_open
from recycling.services.runs.run_record import run_record
from tests.factories import (
    KG,
    START,
    G,
    OriginFactory,
    PolymerFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
    said_of,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def bag(actor, mass_mg, turn=0, **own):
    SourceFactory(actor=actor, name="School") if turn == 0 else None
    weighing = own.pop("weighing", WeighingEntry())
    entry = OriginEntry(
        kind="collection",
        happened_at=own.pop("at", START + turn * HOUR),
        bags=(BagEntry(mass_mg, weighing=weighing, **own),),
        source="School",
    )
    return origin_record(actor, entry)


@pytest.fixture
def lead():
    """A workshop that had eight bags of one to two kilograms."""
    actor = WorkshopFactory()
    for turn in range(8):
        bag(actor, 1100 * G + turn * 130 * G, turn)
    assert not FigureDoubt.objects.exists()
    return actor


def test_ten_times_the_usual_is_asked_with_what_it_may_be(lead):
    (doubt,) = bag(lead, 12_400 * G, 9).doubts
    assert doubt.field == "/bags/0/mass_mg"
    assert doubt.suggestions[0].value == "1.24 kg"
    assert "1.10 kg" in doubt.said or "1.1 kg" in doubt.said or "1.100 kg" in doubt.said
    assert doubt.key == "figure-far:/bags/0/mass_mg:12400000"
    assert bag(lead, 1_900 * G, 10).doubts == ()


def test_of_a_gross_mass_it_is_the_gross_that_is_proposed(lead):
    crate = WeighingEntry(gross_mg=14_000 * G, tare_mg=100 * G)
    (doubt,) = bag(lead, 13_900 * G, 9, weighing=crate).doubts
    assert doubt.field == "/bags/0/weighing/gross_mg"
    assert doubt.suggestions[0].value == "1.4 kg"


def test_the_answer_is_remembered_with_who_and_when_and_widens_nothing(lead):
    key = "figure-far:/bags/0/mass_mg:12400000"
    sure = replace(lead, confirmed=frozenset({key}))
    assert bag(sure, 12_400 * G, 9).doubts == ()
    (kept,) = FigureDoubt.objects.all()
    assert (kept.answered_by, kept.answered_at is None) == (lead.reference, False)
    for turn in range(3):
        assert bag(lead, 12_400 * G, 10 + turn).doubts, "a confirmed figure widened the past"
    for turn in range(2):
        bag(lead, 12_400 * G, 14 + turn)
    assert bag(lead, 12_600 * G, 17).doubts == (), "four in a row are the usual ones now"


def test_from_the_first_day_what_scales_bags_and_the_calendar_can_be():
    actor = WorkshopFactory()
    ScaleFactory(actor=actor, name="floor", interval_mg=20 * G, capacity_mg=150 * KG)
    (heavy,) = bag(actor, 4_310 * KG).doubts
    assert heavy.key.startswith("above-scales:")
    assert [one.value for one in heavy.suggestions] == ["4.31 kg"]
    (light,) = bag(actor, 4 * G, 1).doubts
    assert light.key.startswith("below-scales:") and light.suggestions[0].value == "40 g"
    year = START.replace(year=START.year - 8)
    (old,) = bag(actor, 2 * KG, 2, at=year).doubts
    assert (old.field, old.key.partition(":")[0]) == ("/happened_at", "long-before")
    (many,) = bag(actor, 2 * KG, 3, form="bottles", count=1000).doubts
    assert "2 g for each bottle" in many.said


def sorting(actor, clean_mg, **own):
    lot = own.pop("lot")
    inputs = (DrawEntry(lot, 1 * KG),)
    outputs = (OutputEntry("clean bottles", clean_mg),)
    end = START + timedelta(days=1)
    return RunEntry("sort", end - HOUR, end, inputs=inputs, outputs=outputs, **own)


def test_more_out_than_in_is_asked_at_the_output(lead):
    lot = bag(lead, 2 * KG, 9).lots[0].code
    (doubt,) = run_record(lead, sorting(lead, 9_100 * G, lot=lot)).doubts
    assert (doubt.field, doubt.suggestions[0].value) == ("/outputs/0/mass_mg", "910 g")
    assert "more comes out than went in" in doubt.said


def test_hours_noted_and_metres_wound_are_held_against_run_and_mass(lead):
    lot = bag(lead, 2 * KG, 9).lots[0].code
    end = START + timedelta(days=1)
    dried = run_record(
        lead,
        RunEntry(
            "dry",
            end - timedelta(minutes=1),
            end,
            inputs=(DrawEntry(lot, 1 * KG),),
            outputs=(OutputEntry("bottles", 990 * G),),
            checks=(CheckEntry("hours_at_temperature", "5"),),
        ),
    )
    said = "Time at temperature: 5 h, but the run lasted 1 min."
    assert said in said_of(dried)
    (asked,) = [one for one in dried.doubts if one.said == said]
    assert asked.field == "/checks/0/value"


def test_at_most_two_are_asked_the_largest_first(lead):
    bags = tuple(BagEntry(mass) for mass in (12 * KG, 1_200 * KG, 13 * KG, 1 * KG))
    entry = OriginEntry(
        kind="collection", happened_at=START + 30 * HOUR, bags=bags, source="School"
    )
    first, second = origin_record(lead, entry).doubts
    assert first.field == "/bags/1/mass_mg"
    assert second.field in ("/bags/0/mass_mg", "/bags/2/mass_mg")


def test_a_spool_is_held_against_its_length_and_the_largest_there_are(lead):
    PolymerFactory(actor=lead, code="PX", density_g_cm3=1.38, density_source="told")
    bought = BagEntry(30 * KG, form="filament", polymer="PX")
    end = START + timedelta(days=1)
    entry = RunEntry("wind", end - HOUR, end)

    def wound(mass_mg, length_m):
        output = OutputEntry("filament", mass_mg, spool=SpoolEntry(length_m=length_m))
        coil = OriginFactory(actor=lead, bags=(bought,)).lots[0].code
        return run_record(
            lead, replace(entry, inputs=(DrawEntry(coil, 15 * KG),), outputs=(output,))
        ).doubts

    assert wound(1_100 * G, 330) == ()
    (short,) = wound(1_100 * G, 33)
    assert "33 m of 1.75 mm weigh about 110 g, not 1.100 kg" in short.said
    (heavy,) = wound(11 * KG, None)
    assert "the largest usual spool" in heavy.said


def test_a_time_to_come_and_one_before_2000_are_taken_and_asked_about(lead):
    """A few minutes ahead is another clock; a whole day is a slip, and both ends of a run are."""
    now = timezone.now()
    assert bag(lead, 1_200 * G, 9, at=now + timedelta(minutes=4)).doubts == ()
    (later,) = bag(lead, 1_200 * G, 10, at=now + timedelta(hours=2)).doubts
    assert (later.field, later.suggestions) == ("/happened_at", ())
    year = now.replace(year=now.year + 1, month=1, day=5)
    (next_year,) = bag(lead, 1_200 * G, 11, at=year).doubts
    assert next_year.suggestions[0].value == year.replace(year=now.year).isoformat()
    sure = replace(lead, confirmed=frozenset({next_year.key}))
    assert bag(sure, 1_200 * G, 11, at=year).doubts == ()
    old = WorkshopFactory()
    (early,) = bag(old, 2 * KG, at=START.replace(year=1999)).doubts
    assert early.said == "1999-01-08 is before 2000."
    lot = bag(lead, 2 * KG, 12).lots[0].code
    entry = replace(sorting(lead, 900 * G, lot=lot), started_at=year, ended_at=year + HOUR)
    (both,) = run_record(lead, entry).doubts
    assert (both.field, both.key.partition(":")[0]) == ("/started_at", "to-come")


def test_of_an_open_run_each_time_that_is_typed_is_asked_about(lead):
    lot = bag(lead, 2 * KG, 9).lots[0].code
    run = run_open(lead, RunEntry("sort", START, None)).code
    soon = timezone.now() + timedelta(days=2)
    (drawn,) = run_draw(lead, run, [DrawEntry(lot, 1 * KG)], soon).doubts
    assert (drawn.field, drawn.key.partition(":")[0]) == ("/at", "to-come")
    (lost,) = run_loss_add(lead, run, [LossEntry("residue", 1 * G)], [soon]).doubts
    assert lost.field == "/losses/0/at"
    (closed,) = [one for one in run_close(lead, run, soon).doubts if one.field]
    assert closed.field == "/ended_at"
