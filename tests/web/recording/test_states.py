"""A spool's page says in words whether it is good, what that rests on, and what is missing."""

from __future__ import annotations

import pytest

from recycling.models import DeclaredCheck, Spool
from recycling.records.quality.entries import FilamentEntry
from recycling.services.quality.measurements import filament_measure
from tests.histories import tell
from tests.services.quality.test_states import EVEN, WILD
from tests.web.recording.conftest import form_of, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(lead):
    told = tell(
        "C1: bottles PET 2kg\nR1 sort C1.1 all -> clean bottles 2kg\n"
        "R2 shred R1.1 all -> flake 2kg\nR3 dry R2.1 all -> dried flake 2kg\n"
        "R4 extrude R3.1 all -> filament 900g spool, start-up scrap 1kg",
        lead.actor,
    )
    Spool.objects.update(tolerance_mm=0.05)
    return told


def seen(lead, path: str) -> str:
    return text_of(lead.client.get(f"/w/{lead.actor.slug}/{path}"))


def test_the_page_of_a_spool_lists_what_is_missing(lead, told):
    for path in (f"lots/{told.code('R4.1')}/", f"lots/{told.code('R4.1')}/checks/"):
        page = seen(lead, path)
        assert "not decided" in page
        assert "Diameter: nothing was measured yet. Take at least 10 readings." in page


def test_it_says_within_and_outside_limits_with_the_readings(lead, told):
    code = told.code("R4.1")
    filament_measure(told.actor, FilamentEntry(code, EVEN, EVEN))
    page = seen(lead, f"lots/{code}/")
    assert "within limits" in page
    assert "20 readings, 1.740 to 1.760 mm" in page
    filament_measure(told.actor, FilamentEntry(code, WILD, WILD))
    page = seen(lead, f"lots/{code}/checks/")
    assert "outside limits" in page
    assert "Before: within limits" in page
    assert "Release as second choice" in page
    address = f"/w/{lead.actor.slug}/lots/{code}/second-choice/"
    form = lead.client.get(address)
    assert "It stays outside its limits" in text_of(form)


def test_a_check_is_changed_on_a_page_and_becomes_an_edition(lead):
    assert "default, not checked" in seen(lead, "declared-checks/")
    path = "declared-checks/diameter/"
    typed = {"low": "-0.04", "high": "0.04", "least": "12", "share_percent": "95"}
    answer = lead.send(path, lead.fill(path, **typed))
    assert answer.status_code == 422, "a source is missing"
    assert form_of(answer)["low"] == ["-0.04"], "what was typed is still there"
    assert DeclaredCheck.objects.count() == 0
    lead.recorded(path, **typed, source="own trials, March")
    (row,) = DeclaredCheck.objects.all()
    assert (row.edition, row.low, row.least, row.share_percent) == (1, -0.04, 12, 95)
    page = seen(lead, "declared-checks/")
    assert "own trials, March" in page
    assert "edition 1" in page
