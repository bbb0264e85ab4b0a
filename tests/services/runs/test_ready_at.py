"""A drying that goes on says when it is done, on its page and on the day's."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client

from recycling.models import User
from recycling.queries.planning.today import today
from recycling.queries.process.drying_ready import ready_at
from recycling.queries.runs.runs import run_page
from recycling.records.runs.entries import SettingEntry
from recycling.records.setup.practice import MaterialEntry
from recycling.services.runs.run_open import run_log
from recycling.services.setup.practice import material_set
from tests.histories import Told, tell

pytestmark = pytest.mark.django_db
RECIPE = {"least_c": 130.0, "most_c": 150.0, "time_h": 5.0}


@pytest.fixture
def told(db) -> Told:
    told = tell("O1: flake PET 4kg\nopen R1 dry O1.1 2kg")
    material_set(told.actor, MaterialEntry("PET", "drying", RECIPE, "the maker's sheet"))
    return told


def ready(told: Told, hours: float) -> datetime | None:
    """When the run is done as it is said so many hours after it began: the same on both pages."""
    code = told.code("R1")
    with time_machine.travel(began(told) + timedelta(hours=hours), tick=False):
        (row,) = today(told.actor).open_runs
        found = ready_at(told.actor, run_page(told.actor, code))
        assert row.due.ready_at == found
    return found


def began(told: Told) -> datetime:
    return told.run("R1").started_at


def heat(told: Told, *settings: tuple[str, float]) -> None:
    for celsius, hours in settings:
        at = began(told) + timedelta(hours=hours)
        with time_machine.travel(at):
            run_log(told.actor, told.code("R1"), settings=(SettingEntry("set_c", celsius, at),))


def test_it_is_done_when_it_was_hot_for_the_time_of_the_recipe(told):
    assert ready(told, 1) is None, "nobody noted its heat"
    heat(told, ("140", 0.5))
    assert ready(told, 1) == began(told) + timedelta(hours=5.5)
    assert ready(told, 5) == began(told) + timedelta(hours=5.5), "it does not wander with the hour"


def test_a_time_too_cold_does_not_count_and_promises_nothing(told):
    heat(told, ("140", 0), ("90", 2))
    assert ready(told, 3) is None
    heat(told, ("145", 4))
    assert ready(told, 5) == began(told) + timedelta(hours=7)


def test_the_page_and_the_day_show_it(told):
    heat(told, ("140", 0))
    client = Client()
    client.force_login(User.objects.get(memberships__pk=told.actor.member_id))
    with time_machine.travel(began(told) + timedelta(hours=1)):
        for address in ("", f"runs/{told.code('R1')}/"):
            page = client.get(f"/w/{told.actor.slug}/{address}").content.decode()
            assert "Ready, if the heat stays as it is," in page, address
