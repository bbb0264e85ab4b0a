"""The guide's own stage, added to the list: service, pages, API and balance pick it up."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client

from recycling.models import Run, User
from recycling.queries.balance.balance import stages_balance
from recycling.records.people import KeyEntry
from recycling.services.people.workshops import key_issue
from recycling.stages import STAGES
from tests.histories import Told, tell

GUIDE = Path(__file__).resolve().parent.parent / "docs/guides/add_a_stage.md"


@pytest.fixture
def told(db) -> Iterator[Told]:
    """A book with scrap in it, and the stage of the guide as one more line of the list."""
    code = re.search(r"```python\n(.*?)```", GUIDE.read_text(), re.S)
    written: dict = {}
    exec("\n".join(line.removeprefix("   ") for line in code[1].splitlines()), written)
    STAGES.append(written["STAGE"])
    yield tell("O1: offcuts PET 2kg")
    STAGES.remove(written["STAGE"])


def test_the_api_records_it_and_the_balance_shows_it(told):
    key = key_issue(told.actor, KeyEntry("test")).secret
    moment = (told.now + timedelta(hours=1)).isoformat()
    body = {
        "stage": "press",
        "started_at": moment,
        "ended_at": moment,
        "inputs": [{"lot": told.code("O1.1"), "mass": "1 kg"}],
        "outputs": [{"form": "pellets", "mass": "940 g"}, {"form": "reject", "mass": "45 g"}],
        "losses": [{"account": "volatiles", "mass": "5 g", "how": "weighed"}],
        "checks": [{"key": "plate_c", "value": "240"}],
    }
    answer = Client().post(
        "/api/v1/runs/",
        body,
        content_type="application/json",
        headers={"authorization": f"Bearer {key}", "idempotency-key": "press-1"},
    )
    assert answer.status_code == 201, answer.content
    assert answer.json()["unaccounted_mg"] == 10_000
    line = stages_balance(told.actor, told.now, told.now + timedelta(days=1))[-1]
    assert (line.stage, line.outputs_mg["waste"], line.stage_yield) == ("press", 45_000, 0.94)


def test_its_page_asks_for_what_the_stage_declares_and_shows_its_cautions(told):
    client = Client()
    client.force_login(
        User.objects.get(memberships__pk=told.actor.member_id),
        backend="recycling.web.people.People",
    )
    page = client.get(f"/w/{told.actor.slug}/record/press/").content.decode()
    assert "Press scrap between hot plates." in page
    assert "Plate temperature" in page
    assert "mains voltage" in page
    assert not Run.objects.filter(stage="press").exists()
