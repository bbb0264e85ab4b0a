"""Holds stop draws at once, in open runs too, and can spread to all that descends."""

from __future__ import annotations

import pytest

from recycling.models import ChangeEvent, Hold
from recycling.queries.integrity.audit import audit
from recycling.records.lots.notes import HoldEntry
from recycling.services.lots.holds import hold_place, hold_release
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    told = tell(
        "C1: bottles PET 5kg, 3kg\nC2: bottles PET 2kg\nR1 sort C1.1 4kg -> clean bottles 3.9kg\n"
        "R2 shred R1.1 2kg -> flake 1.9kg"
    )
    yield told
    assert audit(told.actor.workshop_id) == []


def test_a_held_lot_is_not_drawn_from(told: Told):
    told.tell("hold R1.1")
    with refused("lot-held", pointer="/inputs/0/lot", says="looks odd"):
        told.tell("R3 shred R1.1 1kg -> flake 1kg")
    with refused("lot-held"):
        told.tell("open R3 shred R1.1 1kg")
    told.tell("R3 dry R2.1 1kg -> dried flake 990g")  # it does not spread by itself


def test_a_hold_stops_an_open_run(told: Told):
    told.tell("open R3 shred R1.1 500g\nhold R1.1")
    with refused("lot-held"):
        told.tell("R3 draws R1.1 500g")
    told.tell("R3 gives flake 480g\nrelease R1.1\nR3 draws R1.1 500g\nclose R3")


def test_a_hold_spreads_to_all_that_descends_now_and_later(told: Told):
    told.tell("hold C1.1 spreading")
    with refused("lot-held", says=f"because it descends from {told.code('C1.1')}"):
        told.tell("R3 dry R2.1 1kg -> dried flake 990g")
    told.tell("release C1.1\nR3 dry R2.1 1kg -> dried flake 990g\nhold R1.1 spreading")
    with refused("lot-held", says=f"descends from {told.code('R1.1')}"):
        told.tell("R4 dispatch R3.1 100g")
    told.tell("R4 dispatch C1.1 100g")  # nothing goes up


def test_a_spreading_hold_reaches_through_open_runs(told: Told):
    told.tell("open R3 shred R1.1 1kg\nR3 gives flake 400g\nhold R1.1 spreading")
    with refused("lot-held"):
        told.tell("R4 dry R3.1 100g -> dried flake 90g")


def test_a_draw_corrected_away_no_longer_spreads_a_hold(told: Told):
    told.tell("hold C1.1 spreading")
    with refused("lot-held"):
        told.tell("R4 dispatch R2.1 100g")
    told.correct(told.posting("R1", "C1.1"), "0g")
    told.tell("R4 dispatch R2.1 100g")


def test_a_collection_is_held_whole(told: Told):
    placed = hold_place(told.actor, HoldEntry(told.code("C1"), "smells"))
    assert len(placed.holds) == 2
    with refused("lot-held"):
        told.tell("R3 sort C1.2 1kg -> clean bottles 900g")
    told.tell("R3 sort C2.1 1kg -> clean bottles 900g")
    with refused("hold-exists", pointer="/target"):
        hold_place(told.actor, HoldEntry(told.code("C1"), "smells"))


def test_two_holds_on_one_bag_do_not_pass_for_holds_on_two(told: Told):
    told.tell("hold C1.1\nhold C1.1 spreading")
    placed = hold_place(told.actor, HoldEntry(told.code("C1"), "smells"))
    assert [Hold.objects.get(pk=pk).lot_id for pk in placed.holds] == [told.lot("C1.2").pk]


def test_every_hold_must_be_released(told: Told):
    told.tell("hold C1.2\nhold C1.2 spreading")
    first, second = Hold.objects.order_by("pk")
    hold_release(told.actor, first.pk, "fine")
    with refused("lot-held"):
        told.tell("R3 sort C1.2 1kg -> clean bottles 900g")
    hold_release(told.actor, second.pk, "fine")
    told.tell("R3 sort C1.2 1kg -> clean bottles 900g")


def test_holds_and_releases_are_written_down(told: Told):
    told.tell("hold C1.2\nrelease C1.2")
    hold = Hold.objects.get()
    assert (hold.reason, hold.release_reason) == ("looks odd", "looked at, fine")
    assert hold.placed_by == hold.released_by == told.actor.reference
    events = ChangeEvent.objects.filter(subject=told.code("C1.2")).order_by("pk")
    assert [(event.deed, event.reason) for event in events] == [
        ("hold", "looks odd"),
        ("release", "looked at, fine"),
    ]


def test_a_code_is_taken_as_loosely_typed_as_elsewhere(told: Told):
    typed = "  " + told.code("C1.2").lower().replace("-", " ") + " " * 60
    hold_place(told.actor, HoldEntry(typed, "smells"))
    assert ChangeEvent.objects.filter(deed="hold").get().subject == told.code("C1.2")


def test_what_cannot_be_held_or_released_says_why(told: Told):
    with refused("lot-unknown", pointer="/target"):
        hold_place(told.actor, HoldEntry("L999-1", "why"))
    with refused("origin-unknown"):
        hold_place(told.actor, HoldEntry("C999-1", "why"))
    with refused("reason-missing", pointer="/reason"):
        hold_place(told.actor, HoldEntry(told.code("C1.1"), " "))
    told.tell("hold C1.1")
    with refused("hold-exists"):
        hold_place(told.actor, HoldEntry(told.code("C1.1"), "again"))
    with refused("hold-unknown"):
        hold_release(told.actor, 10**9, "why")
    hold = Hold.objects.get()
    hold_release(told.actor, hold.pk, "why")
    with refused("hold-released"):
        hold_release(told.actor, hold.pk, "why")


def test_another_workshops_lots_and_holds_are_unknown(told: Told):
    strange = tell("C1: bottles PET 1kg\nhold C1.1")
    with refused("hold-unknown"):
        hold_release(told.actor, Hold.objects.get().pk, "why")
    code = next(c for c in ("L90-0", *strange.codes.values()) if c not in told.codes.values())
    with refused("lot-unknown"):
        hold_place(told.actor, HoldEntry(code, "why"))


def test_a_hold_on_a_run_holds_all_that_it_gave(told: Told):
    told.tell("R3 dry R2.1 1kg -> dried flake 600g, dried flake 390g")
    placed = hold_place(told.actor, HoldEntry(told.code("R3"), "open too long", True))
    assert len(placed.holds) == 2
    with refused("lot-held", "lot-held"):
        told.tell("R4 extrude R3.1 100g, R3.2 100g -> filament 200g")
    with refused("run-unknown"):
        hold_place(told.actor, HoldEntry("R999-0", "why"))
    told.tell("open R5 shred R1.1 100g")
    with refused("nothing-to-hold", pointer="/target"):
        hold_place(told.actor, HoldEntry(told.code("R5"), "why"))
