"""Whether a spool is good follows from declared checks; nothing passes by default."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.models import Lot, Verdict
from recycling.queries.quality.checks import lot_checks
from recycling.queries.quality.declared import checks_in_force
from recycling.queries.quality.states import state_of, states_at
from recycling.records.quality.declared import DeclareEntry
from recycling.records.quality.entries import FilamentEntry, VerdictEntry
from recycling.services.quality.declare import check_declare, second_choice_release
from recycling.services.quality.measurements import filament_measure
from recycling.services.quality.verdict_decide import verdict_decide
from recycling.services.quality.verdict_give import verdict_give
from shared.errors import Conflict, Forbidden
from tests.factories import START, with_scope
from tests.histories import tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
EVEN = (1.75, 1.74, 1.76, 1.75, 1.755, 1.745, 1.75, 1.76, 1.74, 1.75)
WILD = (1.40, 2.00, 1.62, 1.95, 1.55, 1.88, 1.75, 1.45, 1.90, 1.70)


@pytest.fixture
def told(db):
    told = tell("""
    C1: bottles PET 5kg
    R1 sort C1.1 all -> clean bottles 5kg
    R2 shred R1.1 all -> flake 5kg
    R3 dry R2.1 all -> dried flake 5kg
    R4 extrude R3.1 3kg -> filament 900g spool, filament 950g spool, start-up scrap 1kg
    """)
    Lot.objects.get(code=told.code("R4.1")).spool.__class__.objects.update(tolerance_mm=0.05)
    return told


def spool(told, name="R4.1"):
    return told.code(name)


def measure(told, values=EVEN, second=None, name="R4.1", at=None):
    return filament_measure(
        told.actor, FilamentEntry(spool(told, name), values, second or values, measured_at=at)
    )


def state(told, name="R4.1"):
    return lot_checks(told.actor, spool(told, name)).state


def test_what_was_not_measured_is_not_judged_and_says_what_is_missing(told):
    found = state(told)
    assert found.state == "not judged"
    assert [text.split(":")[0] for text in found.missing] == [
        "Diameter",
        "Ovality",
        "Largest diameter",
    ]
    assert "Take at least 10 readings." in found.missing[0]


def test_even_readings_along_two_axes_pass(told):
    measure(told)
    found = state(told)
    assert (found.state, found.missing, found.edition) == ("passed", (), 0)
    diameter = found.answers[0]
    assert (diameter.readings, diameter.least_seen, diameter.most_seen) == (20, 1.74, 1.76)
    assert (diameter.low, diameter.high) == pytest.approx((1.70, 1.80))
    assert state(told, "R4.2").state == "not judged"


def test_one_axis_alone_leaves_the_ovality_open(told):
    filament_measure(told.actor, FilamentEntry(spool(told), EVEN * 2))
    found = state(told)
    assert found.state == "not judged"
    assert found.missing == ("Ovality: measure along two axes.",)


def test_without_a_tolerance_the_diameter_is_not_judged(told):
    Lot.objects.get(code=spool(told)).spool.__class__.objects.update(tolerance_mm=None)
    measure(told)
    assert "tolerance of the spool" in state(told).missing[0]


def test_from_too_thin_to_too_thick_fails_and_stays_so_until_it_is_measured_anew(told):
    measure(told, WILD)
    assert state(told).state == "failed"
    measure(told)
    found = state(told)
    assert found.state == "passed"
    assert found.answers[0].earlier == ("failed",), "failing first, then passing, is shown as such"


def test_a_bad_result_fails_a_spool_until_the_workshop_answers_it(told):
    measure(told)
    verdict_give(told.actor, VerdictEntry(spool(told), False, ("brittle",)))
    assert state(told).state == "failed"
    verdict_give(told.actor, VerdictEntry(spool(told), True))
    assert state(told).state == "failed", "a later good result does not lift a bad one"
    bad = Verdict.objects.get(good=False)
    verdict_decide(told.actor, bad.pk, False, "the printer's bed was cold")
    assert state(told).state == "passed"


def test_good_results_alone_pass_nothing(told):
    verdict_give(told.actor, VerdictEntry(spool(told), True))
    assert state(told).state == "not judged"


def test_a_bad_result_that_waits_leaves_it_open(told):
    measure(told)
    lot = Lot.objects.get(code=spool(told))
    Verdict.objects.create(
        lot=lot, good=False, defects=["brittle"], giver="x" * 64, given_at=timezone.now(),
        state=Verdict.WAITING,
    )  # fmt: skip
    found = state(told)
    assert (found.state, len(found.missing)) == ("not judged", 1)


def test_a_state_keeps_the_edition_that_held_when_it_was_made(told):
    measure(told)
    entry = DeclareEntry("diameter", "own trials", low=-0.01, high=0.01, least=5)
    check_declare(told.actor, entry)
    assert state(told).state == "passed", "made before this edition"
    edition = check_declare(told.actor, DeclareEntry(**{**vars(entry), "since": START}))
    found = state(told)
    assert (found.edition, found.answers[0].edition) == (edition, edition)
    assert found.state == "not judged", "20 readings inside ±0.01 are not sure with this gauge"
    other = DeclareEntry("diameter", "own", polymer="PLA", low=-0.01, high=0.01, since=START)
    check_declare(told.actor, other)
    assert state(told).edition == edition, "a check of another polymer is none of it"


def test_with_every_check_switched_off_nothing_passes(told):
    measure(told)
    for row in checks_in_force(told.actor):
        limits = {"low": row.low, "high": row.high}
        check_declare(
            told.actor, DeclareEntry(row.quantity, "none", off=True, since=START, **limits)
        )
    found = state(told)
    assert (found.state, found.answers) == ("not judged", ())
    assert found.missing == ("No check is declared that filament needs.",)


def test_a_check_for_information_fails_nothing(told):
    measure(told)
    entry = DeclareEntry("ovality", "own", high=0.001, needed=False, since=START)
    check_declare(told.actor, entry)
    second = tuple(value + 0.04 for value in EVEN)
    measure(told, EVEN, second)
    answers = {one.quantity: one.answer for one in state(told).answers}
    assert answers["ovality"] == "failed"
    assert state(told).state != "failed"


def test_the_state_at_a_moment_rests_on_what_was_noted_until_then(told):
    lot = Lot.objects.get(code=spool(told))
    now = timezone.now()
    measure(told, at=now - timedelta(days=2))
    measure(told, WILD, at=now - timedelta(days=1))
    moments = [now - timedelta(days=3), now - timedelta(days=1, hours=1), now]
    found = [one.state for one in states_at(told.actor.workshop_id, moments)[lot.pk]]
    assert found == ["not judged", "passed", "failed"]
    assert [state_of(lot, moment).state for moment in moments] == found


def test_what_is_wound_anew_stands_for_itself(told):
    measure(told)
    told.tell("R9 wind R4.1 all -> filament 850g spool, offcuts 50g")
    assert state(told, "R9.1").state == "not judged"


def test_what_failed_can_be_second_choice_and_stays_failed(told):
    with pytest.raises(Conflict):
        second_choice_release(told.actor, spool(told), "for the test prints")
    measure(told, WILD)
    second_choice_release(told.actor, spool(told), "for the test prints")
    found = state(told)
    assert (found.state, found.second_choice) == ("failed", "for the test prints")
    with refused("second-choice-already", pointer="/lot"):
        second_choice_release(told.actor, spool(told), "again")


@pytest.mark.parametrize(
    ("changed", "code", "pointer"),
    [
        ({"quantity": "weight"}, "quantity-unknown", "/quantity"),
        ({"form": "flake"}, "form-wrong", "/form"),
        ({"polymer": "XYZ"}, "polymer-unknown", "/polymer"),
        ({"rule": "none bad"}, "rule-wrong", "/rule"),
        ({"defect": "ugly"}, "defect-unknown", "/defect"),
        ({"low": 9.0}, "number-out-of-bounds", "/low"),
        ({"low": 0.05, "high": -0.05}, "window-wrong", "/high"),
        ({"quantity": "ovality"}, "number-missing", "/high"),
        ({"least": 0}, "number-out-of-bounds", "/least"),
        ({"share_percent": 100.0}, "number-out-of-bounds", "/share_percent"),
        ({"source": " "}, "text-missing", "/source"),
    ],
)
def test_what_does_not_go_together_is_refused_by_name(told, changed, code, pointer):
    entry = DeclareEntry(**{"quantity": "diameter", "source": "own trials", **changed})
    with refused(code, pointer=pointer):
        check_declare(told.actor, entry)


def test_checks_are_declared_by_who_manages(told):
    operator = with_scope(told.actor, role="operator")
    with pytest.raises(Forbidden):
        check_declare(operator, DeclareEntry("diameter", "own"))
