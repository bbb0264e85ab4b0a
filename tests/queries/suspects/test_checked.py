"""A check that failed is a bad result of the defect that it stands for, and of no other."""

from __future__ import annotations

import pytest

from recycling.models import Spool
from recycling.queries.labels.labels import labels_of
from recycling.queries.labels.spool_page import public_spool
from recycling.queries.suspects.ranking import suspects
from recycling.records.quality.entries import FilamentEntry
from recycling.records.suspects.ranking import SuspectQuestion
from recycling.services.labels import link_give
from recycling.services.quality.measurements import filament_measure
from tests.queries.passing import EVEN
from tests.queries.spoilt import spoilt_book
from tests.services.quality.test_states import WILD

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db):
    told = spoilt_book(spools=3)
    Spool.objects.update(tolerance_mm=0.05)
    for name, values in (("S0", tuple(EVEN)), ("S1", WILD)):
        filament_measure(told.actor, FilamentEntry(told.code(name), values, values))
    return told


def counts(told, *defects):
    found = suspects(told.actor, SuspectQuestion(defects=defects))
    return found.good_spools, found.bad_spools


def test_measured_spools_are_good_and_bad_of_their_defect(told):
    assert counts(told, "diameter out of tolerance") == (1, 1)
    assert counts(told, "brittle") == (0, 0)
    assert counts(told) == (0, 0), "a search begins with the defect's name"


def test_a_label_says_second_choice_or_within_limits_or_nothing(told):
    words = {
        name: " ".join(labels_of(told.actor, [told.code(name)])[0].label.lines)
        for name in ("S0", "S1", "S2")
    }
    assert "Within limits, measured" in words["S0"]
    assert "Second choice" in words["S1"]
    assert "imits" not in words["S2"] and "choice" not in words["S2"]


def test_the_public_page_says_what_is_decided(told):
    shown = {
        name: public_spool(link_give(told.actor, told.code(name)).token).judged
        for name in ("S0", "S1", "S2")
    }
    assert shown == {"S0": "passed", "S1": "failed", "S2": ""}
