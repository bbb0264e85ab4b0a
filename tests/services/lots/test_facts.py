"""Facts of collections and lots are put right in place; what they were stays readable."""

from __future__ import annotations

import pytest

from recycling.models import ChangeEvent, Lot, Origin
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_page
from recycling.records.lots.changes import LotChange, OriginChange
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.services.lots.facts import lot_change, origin_change
from recycling.services.lots.origin_record import origin_record
from shared.errors import Forbidden, Unknown
from tests.factories import (
    KG,
    START,
    MemberFactory,
    ProgrammeFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.histories import tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def actor(db):
    actor = WorkshopFactory()
    SourceFactory(actor=actor, name="Hillside School")
    SourceFactory(actor=actor, name="Corner shop")
    ProgrammeFactory(actor=actor, name="Spring drive")
    return actor


@pytest.fixture
def code(actor) -> str:
    bags = (BagEntry(5 * KG, colour="clear"),)
    entry = OriginEntry("collection", START, bags, source="Hillside School", note="wet")
    return origin_record(actor, entry).code


def test_who_gave_and_what_it_counts_towards_are_put_right(actor, code):
    MemberFactory(actor=actor, name="Bo")
    change = OriginChange(
        reason="the list was swapped",
        source="Corner shop",
        programme="Spring drive",
        received_by="Bo",
        note="dry",
    )
    record = origin_change(actor, code, change)
    assert (record.source, record.programme, record.received_by, record.note) == (
        "Corner shop",
        "Spring drive",
        "Bo",
        "dry",
    )
    history = {row.fact: (row.before, row.after) for row in record.changes}
    assert history == {
        "source": ("Hillside School", "Corner shop"),
        "programme": ("", "Spring drive"),
        "received_by": ("Ada", "Bo"),
        "note": ("wet", "dry"),
    }
    assert {(row.reason, row.by) for row in record.changes} == {("the list was swapped", "Ada")}
    assert audit(actor.workshop_id) == []


def test_a_history_keeps_no_names(actor, code):
    """A name that is erased under Set-up is erased from every history."""
    change = OriginChange(reason="swapped", source="Corner shop", received_by="Ada")
    with refused("nothing-changed"):
        origin_change(actor, code, OriginChange(reason="x", received_by="Ada"))
    origin_change(actor, code, change)
    kept = ChangeEvent.objects.get(subject=code)
    assert "Corner" not in str(kept.after) and "Hillside" not in str(kept.before)


def test_only_what_is_given_changes_and_a_programme_can_be_taken_off(actor, code):
    origin_change(actor, code, OriginChange(reason="forgot", programme="Spring drive"))
    record = origin_change(actor, code, OriginChange(reason="not theirs", programme=""))
    assert (record.source, record.programme, record.note) == ("Hillside School", "", "wet")
    assert [row.after for row in record.changes] == ["Spring drive", ""]


def test_all_problems_are_said_at_once_and_nothing_is_kept(actor, code):
    with refused("text-too-long", "source-unknown", "member-unknown"):
        origin_change(
            actor,
            code,
            OriginChange(reason="x", source="Nobody", received_by="Nobody", note="n" * 501),
        )
    with refused("reason-missing", pointer="/reason"):
        origin_change(actor, code, OriginChange(reason=" ", note="dry"))
    with refused("source-missing", pointer="/source"):
        origin_change(actor, code, OriginChange(reason="x", source=""))
    assert not ChangeEvent.objects.filter(subject=code).exists()
    assert Origin.objects.get(code=code).note == "wet"


def test_another_workshop_and_a_viewer_put_nothing_right(actor, code):
    viewer = MemberFactory(actor=actor, name="Vi", role="viewer")
    with pytest.raises(Forbidden):
        origin_change(viewer, code, OriginChange(reason="x", note="dry"))
    with pytest.raises(Unknown):
        origin_change(WorkshopFactory(), code, OriginChange(reason="x", note="dry"))


def test_a_bag_was_caps_and_not_bottles(actor, code):
    lot = Lot.objects.get(made_by__origin__code=code).code
    record = lot_change(
        actor, lot, LotChange(reason="opened it", form="caps", colour="blue", count=900)
    )
    assert (record.form, record.colour, record.count, record.role) == (
        "caps",
        "blue",
        900,
        "product",
    )
    assert [row.fact for row in record.changes] == ["colour", "count", "form"]
    emptied = lot_change(actor, lot, LotChange(reason="a guess", empty=("count",)))
    assert emptied.count is None and emptied.changes[-1].before == "900"
    for form in ("heel", "clouds"):
        with refused("form-wrong", pointer="/form"):
            lot_change(actor, lot, LotChange(reason="x", form=form))
    with refused("field-needed"):
        lot_change(actor, lot, LotChange(reason="x", empty=("colour",)))
    with refused("spool-wrong"):
        lot_change(actor, lot, LotChange(reason="x", tare_mg=200_000))


def test_a_spool_is_put_right(actor):
    told = tell(
        "C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3.8kg\n"
        "R2 shred R1.1 3kg -> flake 2.9kg, fines 50g\nR3 dry R2.1 2kg -> dried flake 1990g\n"
        "R4 extrude R3.1 1kg -> filament 900g spool, heel 60g"
    )
    spool = told.code("R4.1")
    change = LotChange(reason="the gauge", diameter_mm=2.85, tare_mg=210_000)
    record = lot_change(told.actor, spool, change)
    assert (record.spool.diameter_mm, record.spool.tare_mg) == (2.85, 210_000)
    with refused("number-out-of-bounds", pointer="/diameter_mm"):
        lot_change(told.actor, spool, LotChange(reason="x", diameter_mm=60.0))
    with refused("form-wrong", pointer="/form"):
        lot_change(told.actor, spool, LotChange(reason="x", form="offcuts"))
    fines = told.code("R2.2")
    assert lot_change(told.actor, fines, LotChange(reason="coarse", form="oversize")).role == (
        "recirculate"
    )
    assert lot_page(told.actor, spool).changes[0].before == "1.75"
    assert audit(told.actor.workshop_id) == []


def test_what_was_voided_is_recorded_anew(actor):
    told = tell("C1: bottles PET 5kg\nvoid C1.run")
    with refused("run-void"):
        origin_change(told.actor, told.code("C1"), OriginChange(reason="x", note="dry"))
    with refused("run-void"):
        lot_change(told.actor, told.code("C1.1"), LotChange(reason="x", note="dry"))
    assert not origin_page(told.actor, told.code("C1")).changes
