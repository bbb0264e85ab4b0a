"""What was known of what went in stays known of what came of it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.queries.lots.lots import lot_page
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import CheckEntry, RunEntry
from recycling.services.runs.run_open import run_open, run_output_add
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START, OriginFactory, WorkshopFactory

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
CLEAN, CAPS = OutputEntry("clean bottles", KG // 2), OutputEntry("caps", KG // 10, "HDPE")


def bags(actor, *colours):
    told = tuple(BagEntry(2 * KG, colour=colour) for colour in colours)
    made = OriginFactory(actor=actor, bags=told).lots
    return tuple(DrawEntry(lot.code, KG) for lot in made)


def sorting(actor, inputs, *outputs):
    at = START + timedelta(days=2)
    return run_record(actor, RunEntry("sort", at - HOUR, at, inputs=inputs, outputs=outputs))


def colours(actor, lots):
    return [lot_page(actor, lot.code).colour for lot in lots]


def test_one_colour_goes_on_and_not_into_another_polymer():
    actor = WorkshopFactory()
    blue = sorting(actor, bags(actor, "blue", "blue"), CLEAN, CAPS)
    assert colours(actor, blue.lots) == ["blue", ""]
    mixed = sorting(actor, bags(actor, "blue", "clear"), CLEAN, CAPS)
    assert colours(actor, mixed.lots) == ["", ""]
    said = OutputEntry("clean bottles", KG // 2, colour="sky")
    assert colours(actor, sorting(actor, bags(actor, "blue"), said).lots) == ["sky"]


def test_of_a_run_that_goes_on_too():
    actor = WorkshopFactory()
    run = run_open(actor, RunEntry("sort", START + 2 * HOUR, inputs=bags(actor, "green")))
    assert colours(actor, run_output_add(actor, run.code, [CLEAN, CAPS]).lots) == ["green", ""]


def test_whom_a_lot_went_to_stands_on_its_page():
    actor = WorkshopFactory()
    (draw,) = bags(actor, "")
    at = START + timedelta(days=2)
    checks = (CheckEntry("receiver", "Fab lab"),)
    run_record(actor, RunEntry("dispatch", at, at, inputs=(draw,), checks=checks))
    (use,) = lot_page(actor, draw.lot).uses
    assert use.receiver == "Fab lab"
