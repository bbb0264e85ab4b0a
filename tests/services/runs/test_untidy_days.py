"""Anything possible can be recorded; what was unusual is said and stands on what descends."""

from __future__ import annotations

import pytest

from recycling.models import Polymer
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page
from recycling.queries.runs.runs import run_page
from recycling.queries.suspects.spool_contents import spool_contents
from recycling.records.lots.lots import SpoolFacts
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
from recycling.records.quality.entries import VerdictEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.quality.verdict_give import verdict_give
from recycling.services.runs.run_record import run_record
from tests.factories import WorkshopFactory
from tests.histories import Told, tell
from tests.services.runs.untidy_days import DAYS, Day

pytestmark = pytest.mark.django_db


@pytest.fixture
def actor():
    """A workshop that also has a polymer of its own, of which the book knows nothing."""
    actor = WorkshopFactory()
    Polymer.objects.create(workshop_id=actor.workshop_id, code="PBT", name="of its own")
    return actor


@pytest.mark.parametrize("day", DAYS, ids=lambda day: day.story)
def test_the_book_takes_the_day_and_says_what_was_unusual(day: Day, actor):
    told = tell(day.told, actor)
    assert {name: unusual(told, name) for name in day.unusual} == day.unusual
    assert {name: told.on_hand(name) for name in day.lots} == day.lots
    assert {name: borne(told, name) for name in day.bears} == day.bears
    assert audit(actor.workshop_id) == []


def test_there_are_at_least_thirty_days():
    assert len({day.story for day in DAYS}) == len(DAYS) >= 30


def unusual(told: Told, run: str) -> list[str]:
    """Name what deviated in a run, by key."""
    return sorted(one.key for one in run_page(told.actor, told.code(run)).deviations)


def borne(told: Told, lot: str) -> list[str]:
    """Name what deviated on the way of a lot, each key once."""
    return sorted({one.key for one in lot_page(told.actor, told.code(lot)).deviations})


def test_a_spool_that_was_dried_is_the_same_spool_and_keeps_what_was_said_of_it(actor):
    told = tell("O1: dried flake PET 2kg\nR1 extrude O1.1 1kg -> filament 900g", actor)
    wound = (OutputEntry("filament", 880_000, spool=SpoolEntry(2.85, 0.05, 210_000, 120.0)),)
    told.codes["S"] = recorded(told, "wind", "R1.1", wound).lots[0].code
    verdict_give(actor, VerdictEntry(told.code("S"), False, ("brittle",)))
    dried = recorded(told, "dry", "S", (OutputEntry("filament", 878_000),)).lots[0]
    again = recorded(told, "dry", dried.code, (OutputEntry("filament", 877_000),)).lots[0]
    shown = lot_page(actor, again.code)
    assert shown.spool == SpoolFacts(
        again.code, 2.85, 0.05, None, 210_000, (dried.code, told.code("S"))
    )
    assert [one.defects for one in shown.verdicts] == [("brittle",)]
    assert again.code.startswith("S")


def recorded(told: Told, stage: str, lot: str, outputs: tuple[OutputEntry, ...]):
    """Record a run that takes all of a lot."""
    taken = (DrawEntry(told.code(lot), all=True),)
    return run_record(
        told.actor, RunEntry(stage, told.now, told.now, inputs=taken, outputs=outputs)
    )


def test_what_was_unusual_stands_in_the_spool_and_is_a_candidate(actor):
    told = tell(
        "O1: flake PET 2kg; dried flake PET 2kg\n"
        "R1 extrude O1.1 500g, O1.2 500g -> filament 900g spool",
        actor,
    )
    found = spool_contents(actor, told.code("R1.1"))
    (one,) = [one for one in found.deviations if one.kind == "fed-undried"]
    assert (one.run, one.share) == (told.code("R1"), pytest.approx(0.5))
    assert told.code("O1.1") in one.said
    (part,) = [one for one in found.parts if one.candidate.kind == "deviation"]
    assert (part.candidate.name, part.share) == ("fed-undried", pytest.approx(0.5))
