"""Origins in feed order, chosen for a run: kept, followed downstream, audited.

The masses are those that `tests/calc/lots/test_feed_order.py` steps through in small parcels (heel
60 g, A 400 g then B 600 g).
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.models import Composition, Lot
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import DrawEntry, HeelEntry, OutputEntry
from recycling.records.runs.entries import FeedEntry, RunEntry
from recycling.services.runs.run_model import run_model_choose
from recycling.services.runs.run_record import run_record
from shared.errors import Refused
from tests.factories import G
from tests.histories import tell

BEFORE = """
O1: heel PET 60g in extruder
P1: pellets PET 400g
P2: pellets PET 600g
"""
RUN = (
    BEFORE
    + "R1 extrude P2.1 600g, P1.1 400g -> start-up scrap 150g, filament 500g spool,"
    + (" filament 340g spool, heel 60g")
)


def recorded(model="feed order"):
    told = tell(BEFORE)
    at = told.now + timedelta(hours=1)
    entry = RunEntry(
        "extrude",
        at,
        at + timedelta(hours=5),
        machine="extruder",
        inputs=(
            DrawEntry(told.code("P2.1"), 600 * G),
            DrawEntry(told.code("P1.1"), 400 * G),
        ),
        feeds=(
            FeedEntry(at + timedelta(minutes=1), told.code("P1.1"), 400 * G),
            FeedEntry(at + timedelta(minutes=90), told.code("P2.1"), 600 * G),
        ),
        outputs=(
            OutputEntry("start-up scrap", 150 * G),
            OutputEntry("filament", 500 * G),
            OutputEntry("filament", 340 * G),
        ),
        heel=HeelEntry(60 * G),
        composition_model=model,
    )
    told._keep("R1", run_record(told.actor, entry))
    told.hour += 7
    return told


@pytest.mark.django_db
def test_a_run_is_recorded_in_feed_order():
    told = recorded()
    assert told.composition("R1.2") == {"O1": 4_924, "P1": 300_206, "P2": 194_870}
    assert told.composition("R1.3") == {"O1": 1, "P1": 866, "P2": 339_133}
    assert sum(told.composition("R1.heel").values()) == 60 * G
    assert audit(told.actor.workshop_id) == []


@pytest.mark.django_db
def test_what_descends_follows_the_model_that_is_chosen():
    told = recorded("well mixed")
    told.tell("R2 wind R1.2 all -> filament 500g spool")
    mixed = told.composition("R2.1")
    assert mixed["O1"] == pytest.approx(500 * G * 60 / 1060, abs=1)
    chosen = run_model_choose(told.actor, told.code("R1"), "feed order", "refills were noted")
    assert (chosen.model, chosen.waiting) == ("feed order", 0)
    assert told.composition("R2.1") == {"O1": 4_924, "P1": 300_206, "P2": 194_870}
    assert audit(told.actor.workshop_id) == []
    run_model_choose(told.actor, told.code("R1"), "well mixed", "they were not")
    assert told.composition("R2.1") == mixed
    assert audit(told.actor.workshop_id) == []


@pytest.mark.django_db
def test_a_correction_and_a_void_keep_feed_order():
    told = recorded()
    told.tell("correct R1 gave R1.2 480g")
    assert sum(told.composition("R1.2").values()) == 480 * G
    assert audit(told.actor.workshop_id) == []
    told.tell("void R1")
    assert told.composition("R1.2") == {}
    assert audit(told.actor.workshop_id) == []


@pytest.mark.django_db
def test_the_audit_finds_a_stored_part_that_feed_order_does_not_give():
    told = recorded()
    rows = Composition.objects.filter(lot=told.lot("R1.2")).order_by("mass_mg")
    smallest, largest = rows.first(), rows.last()
    Composition.objects.filter(pk=smallest.pk).update(mass_mg=smallest.mass_mg + 1)
    Composition.objects.filter(pk=largest.pk).update(mass_mg=largest.mass_mg - 1)
    (finding,) = audit(told.actor.workshop_id)
    assert finding.invariant == 10


@pytest.mark.django_db
def test_an_open_run_is_mixed_of_what_was_fed_by_then_and_in_order_once_it_is_closed():
    told = tell(
        BEFORE
        + """
        open R1 extrude O1.1 all, P1.1 all
        R1 gives start-up scrap 150g
        R1 draws P2.1 all
        R1 gives filament 500g spool
        """
    )
    assert audit(told.actor.workshop_id) == []
    # 60 g of O1 and 400 g of P1 were there: 150 g are 19.565 g and 130.435 g; the rest of both and
    # 600 g of P2 make the spool, by hand
    assert told.composition("R1.1") == {"O1": 19_565, "P1": 130_435}
    rest = {"O1": 40_435, "P1": 269_565, "P2": 600_000}
    assert told.composition("R1.2") == {
        name: pytest.approx(500 * mass / 910, abs=1) for name, mass in rest.items()
    }
    told.tell("close R1 -> filament 340g spool, heel 60g")
    assert told.run("R1").composition_model == "feed order"
    assert told.composition("R1.2") == {"O1": 4_924, "P1": 300_206, "P2": 194_870}
    assert told.composition("R1.3")["P2"] > 300 * G
    assert audit(told.actor.workshop_id) == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("stage", "model", "code"),
    [("R1", "in layers", "model-unknown"), ("R1", "well mixed", "nothing-changed")],
)
def test_a_model_that_makes_no_sense_is_refused(stage, model, code):
    told = tell(RUN)
    with pytest.raises(Refused) as refused:
        run_model_choose(told.actor, told.code(stage), model, "because")
    assert refused.value.problems[0].code == code


@pytest.mark.django_db
def test_only_a_stage_with_a_barrel_has_feed_order():
    told = tell("C1: flake PET 1kg\nR1 dry C1.1 all -> dried flake 990g")
    with pytest.raises(Refused) as refused:
        run_model_choose(told.actor, told.code("R1"), "feed order", "because")
    assert refused.value.problems[0].code == "model-wrong"
    told.tell("void R1")
    with pytest.raises(Refused) as refused:
        run_model_choose(told.actor, told.code("R1"), "well mixed", "because")
    assert refused.value.problems[0].code == "run-void"


@pytest.mark.django_db
def test_what_is_made_of_waiting_lots_waits_too():
    told = tell(BEFORE)
    Lot.objects.filter(pk=told.lot("P1.1").pk).update(stale=True)
    told.tell("open R1 extrude P1.1 all")
    run_model_choose(told.actor, told.code("R1"), "feed order", "because")
    told.tell("close R1 -> filament 340g spool, heel 60g")
    assert told.lot("R1.1").stale
