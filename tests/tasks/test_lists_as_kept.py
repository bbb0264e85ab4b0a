"""Lists as people keep them: taken rightly, asked about rightly, or refused clearly.

The twenty lists of ``tests/checks/lists`` were made for this project by a separate program, with
what each must lead to; the names and masses are invented.
"""

from __future__ import annotations

import json

import pytest
import time_machine

from recycling.models import Workshop
from tests.api.conftest import Program
from tests.checked import CHECKS
from tests.factories import (
    KeyFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.lists_kept import bring, judged, take

pytestmark = pytest.mark.django_db
LISTS = json.loads((CHECKS / "lists" / "lists.json").read_text())
FILES = {one["file"]: one for one in LISTS["files"]}


@pytest.fixture
def workshop(monkeypatch):
    monkeypatch.setattr("recycling.jobs.send", lambda *job: None)
    monkeypatch.setattr("recycling.tasks.lists.parts.PAUSE_SECONDS", 0)
    said = LISTS["workshop"]
    with time_machine.travel(f"{said['today']}T20:00:00Z", tick=True):
        lead = WorkshopFactory()
        Workshop.objects.filter(pk=lead.workshop_id).update(zone=said["zone"])
        for name in said["sources"]:
            SourceFactory(actor=lead, name=name)
        for name in said["programmes"]:
            ProgrammeFactory(actor=lead, name=name)
        for one in said["scales"]:
            ScaleFactory(actor=lead, name=one["name"], capacity_mg=one["capacity_kg"] * 1_000_000)
        yield lead, Workshop.objects.get(pk=lead.workshop_id)


def held(name: str) -> bytes:
    return (CHECKS / "lists" / name).read_bytes()


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_a_list_of_the_twenty_ends_as_it_must(workshop, name):
    lead, shop = workshop
    api, case = Program(KeyFactory(actor=lead).secret), FILES[name]
    for before in case.get("before", ()):
        take(api, bring(api, held(before))["number"])
    assert judged(api, shop, held(name), case) == "right"
