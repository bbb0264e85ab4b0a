"""What was noted of a run is put right: superseded notes stay, and every reader sees the new."""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.models import RunCheck, RunSetting
from recycling.queries.integrity.audit import audit
from recycling.queries.runs.runs import run_page
from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.changes import FedChange, NotedChange, RunChange
from recycling.records.runs.entries import CheckEntry, FeedEntry, RunEntry, SettingEntry
from recycling.services.runs.facts import run_change
from recycling.services.runs.run_record import run_record
from tests.factories import START, MemberFactory
from tests.histories import Told, tell
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
BOOK = """
C1: bottles PET 9kg
R1 sort C1.1 8kg -> clean bottles 7.5kg
R2 shred R1.1 7kg -> flake 6.8kg
R3 dry R2.1 6kg -> dried flake 5.9kg
R5 dispatch C1.1 100g
"""


@pytest.fixture
def told(db) -> Told:
    told = tell(BOOK)
    at = told.now + timedelta(hours=1)
    run = run_record(
        told.actor,
        RunEntry(
            "extrude",
            started_at=at,
            ended_at=at + timedelta(hours=4),
            machine=told._machine("extruder", "extruder"),
            inputs=(DrawEntry(told.code("R3.1"), mass_mg=1_000_000),),
            checks=(CheckEntry("seen", "bubbles"),),
            settings=(SettingEntry("zone_1_c", "240", at, "smooth"),),
            feeds=(FeedEntry(at, told.code("R3.1"), 400_000),),
        ),
    )
    told.codes["R4"] = run.code
    yield told
    assert audit(told.actor.workshop_id) == []


def test_a_setting_is_superseded_and_stays(told):
    code = told.code("R4")
    (setting,) = run_page(told.actor, code).settings
    later = setting.happened_at + timedelta(minutes=5)
    change = NotedChange(noted=setting.noted, value="250", at=later)
    run_change(told.actor, code, RunChange(reason="misread", settings=(change,)))
    record = run_page(told.actor, code)
    assert [(one.value, one.happened_at, one.seen) for one in record.settings] == [
        ("250", later, "smooth")
    ]
    assert {row.fact: row.before for row in record.changes} == {
        "zone_1_c": "240",
        "zone_1_c, when": setting.happened_at.isoformat(),
    }
    every = RunSetting._base_manager.filter(run__code=code).order_by("pk")
    assert [(one.value, one.superseded_at is None) for one in every] == [
        ("240", False),
        ("250", True),
    ]


def test_a_check_is_taken_out_and_one_forgotten_is_added(told):
    code = told.code("R4")
    (check,) = run_page(told.actor, code).checks
    change = RunChange(
        reason="that was another run",
        checks=(
            NotedChange(noted=check.noted, happened=False),
            NotedChange(key="clean_after_purge", value="yes"),
        ),
    )
    run_change(told.actor, code, change)
    (now,) = run_page(told.actor, code).checks
    assert (now.key, now.value) == ("clean_after_purge", "yes")
    assert RunCheck._base_manager.filter(run__code=code).count() == 2


def test_another_receiver_is_noted_and_one_there_must_be(told):
    code = told.code("R5")
    noted = {one.key: one.noted for one in run_page(told.actor, code).checks}
    change = NotedChange(noted=noted["receiver"], value="Harbour makers")
    run_change(told.actor, code, RunChange(reason="wrong line", checks=(change,)))
    said = {one.key: one.value for one in run_page(told.actor, code).checks}
    assert said["receiver"] == "Harbour makers"
    with refused("value-missing", pointer="/checks/0/happened"):
        out = NotedChange(noted=run_page(told.actor, code).checks[0].noted, happened=False)
        run_change(told.actor, code, RunChange(reason="x", checks=(out,)))


def test_who_worked_when_it_began_and_the_refill(told):
    MemberFactory(actor=told.actor, name="Bo")
    code = told.code("R4")
    before = run_page(told.actor, code)
    change = RunChange(
        reason="the paper says so",
        operators=("Bo",),
        note="second barrel",
        started_at=before.started_at - timedelta(hours=1),
        feeds=(FedChange(fed=before.feeds[0].fed, at=before.started_at + timedelta(hours=1)),),
    )
    run_change(told.actor, code, change)
    record = run_page(told.actor, code)
    assert (record.operators, record.note) == (("Bo",), "second barrel")
    assert record.started_at == change.started_at
    assert record.feeds[0].happened_at == before.started_at + timedelta(hours=1)
    history = {row.fact: (row.before, row.after) for row in record.changes}
    assert history["operators"] == ("Ada", "Bo")


def test_what_does_not_fit_is_refused_with_its_place(told):
    code = told.code("R4")
    (setting,) = run_page(told.actor, code).settings
    ended = run_page(told.actor, code).ended_at
    with refused("number-out-of-bounds", pointer="/settings/0/value"):
        wrong = NotedChange(noted=setting.noted, value="900")
        run_change(told.actor, code, RunChange(reason="x", settings=(wrong,)))
    with refused("noted-unknown", "noted-unknown"):
        unknown = NotedChange(noted=999_999, value="1")
        run_change(told.actor, code, RunChange(reason="x", checks=(unknown,), settings=(unknown,)))
    with refused("field-unknown"):
        run_change(told.actor, code, RunChange(reason="x", checks=(NotedChange(key="mood"),)))
    with refused("end-before-start", pointer="/started_at"):
        late = ended + timedelta(minutes=1)
        run_change(told.actor, code, RunChange(reason="x", started_at=late))
    with refused("start-follows"):
        run_change(told.actor, told.code("C1.run"), RunChange(reason="x", started_at=START))
    with refused("nothing-changed"):
        run_change(told.actor, code, RunChange(reason="x", note=""))
    assert RunSetting._base_manager.filter(run__code=code).count() == 1
