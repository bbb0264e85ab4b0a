"""What happens to a lot besides its mass: events and verdicts."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from recycling.models import LotEvent, Verdict
from recycling.records.lots.notes import LotEventEntry
from recycling.records.quality.entries import VerdictEntry
from recycling.services.lots.lot_notes import lot_event
from recycling.services.quality.verdict_give import verdict_give
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db) -> Told:
    return tell("O1: filament PET 1kg; flake PET 1kg")


def test_an_event_is_kept_with_both_its_times(told: Told):
    entry = LotEventEntry(told.code("O1.1"), "moved", told.now, "shelf 3", "dry")
    assert lot_event(told.actor, entry) == told.code("O1.1")
    event = LotEvent.objects.get()
    assert (event.kind, event.place, event.note) == ("moved", "shelf 3", "dry")
    assert (event.happened_at, event.actor) == (told.now, told.actor.reference)
    assert event.written_at > event.happened_at


@pytest.mark.parametrize(
    ("more", "code", "pointer"),
    [
        ({"lot": "L999-1"}, "lot-unknown", "/lot"),
        ({"kind": "lost"}, "kind-unknown", "/kind"),
        ({"kind": "moved"}, "place-missing", "/place"),
        ({"place": "x" * 121}, "text-too-long", "/place"),
        ({"note": "x" * 501}, "text-too-long", "/note"),
        ({"happened_at": datetime(2024, 1, 9)}, "time-without-offset", "/happened_at"),
        ({"happened_at": datetime(2999, 1, 1, tzinfo=UTC)}, "time-in-future", "/happened_at"),
    ],
    ids=str,
)
def test_an_event_that_cannot_be_kept_says_why(told: Told, more, code, pointer):
    usual = {"lot": told.code("O1.1"), "kind": "opened", "happened_at": told.now}
    with refused(code, pointer=pointer):
        lot_event(told.actor, LotEventEntry(**(usual | more)))
    assert not LotEvent.objects.exists()


def test_a_verdict_names_each_defect_once(told: Told):
    defects = ("brittle", "clogged nozzle", "brittle")
    verdict_give(told.actor, VerdictEntry(told.code("O1.1"), False, defects, "snaps"))
    verdict = Verdict.objects.get()
    assert (verdict.good, verdict.defects) == (False, ["brittle", "clogged nozzle"])
    verdict_give(told.actor, VerdictEntry(told.code("O1.1"), True))
    assert Verdict.objects.count() == 2


@pytest.mark.parametrize(
    ("lot", "more", "code", "pointer"),
    [
        ("O1.2", {"good": True}, "form-wrong", "/lot"),
        ("L999-1", {"good": True}, "lot-unknown", "/lot"),
        ("O1.1", {"good": False}, "defect-missing", "/defects"),
        ("O1.1", {"good": True, "defects": ("brittle",)}, "defect-of-good", "/defects"),
        ("O1.1", {"good": False, "defects": ("ugly",)}, "defect-unknown", "/defects"),
        ("O1.1", {"good": True, "note": "x" * 501}, "text-too-long", "/note"),
    ],
    ids=str,
)
def test_a_verdict_that_cannot_be_kept_says_why(told: Told, lot, more, code, pointer):
    with refused(code, pointer=pointer):
        verdict_give(told.actor, VerdictEntry(told.code(lot), **more))
    assert not Verdict.objects.exists()
