"""Each declared stage is recorded by a worked history; a made-up one needs its line alone."""

from __future__ import annotations

import pytest

from recycling.ledger.models import Posting
from recycling.models import Lot, Run
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import DrawEntry, LossEntry, OutputEntry
from recycling.records.runs.entries import CheckEntry, RunEntry, SettingEntry
from recycling.services.runs.run_record import run_record
from recycling.stages import STAGES
from recycling.stages.cautions import CAUTIONS
from recycling.stages.declaration import (
    ANY_POLYMER,
    BORDERS,
    FORMS,
    LOSSES,
    ROLES,
    SIDE,
    Loss,
    Output,
    Stage,
)
from recycling.stages.fields import Field
from recycling.stages.groups import usually
from shared.errors import Refused
from tests.histories import posted, tell
from tests.services.worked_stages import WORKED

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("declared", STAGES, ids=lambda one: one.key)
def test_the_stage_does_what_its_worked_history_says(declared: Stage):
    worked = WORKED[declared.key]
    told = tell(worked.told)
    assert {name: told.on_hand(name) for name in worked.lots} == worked.lots
    assert {place: told.border(*place) for place in worked.borders} == worked.borders
    runs = Run.objects.filter(workshop_id=told.actor.workshop_id, stage=declared.key)
    assert runs.exists()
    for run in runs:
        assert posted(run.pk) == 0
        masses = Posting.objects.filter(entry__process_id=run.pk).values_list("mass_mg", flat=True)
        assert sum(masses) == 0
    for lot in Lot.objects.filter(workshop_id=told.actor.workshop_id):
        assert sum(told.composition(lot.code).values()) == lot.made_mg
    assert audit(told.actor.workshop_id) == []


def test_every_stage_speaks_of_known_things():
    assert len({one.key for one in STAGES}) == len(STAGES)
    for one in STAGES:
        assert set(one.usual_forms) <= set(FORMS)
        assert {output.form for output in one.gives} <= set(FORMS)
        assert {role for output in one.gives for role in output.roles} <= set(ROLES)
        assert {loss.account for loss in one.losses} <= set(LOSSES)
        assert not one.border or one.border in BORDERS
        assert set(one.cautions) <= set(CAUTIONS)
        keys = [field.key for field in (*one.checks, *one.settings)]
        assert len(set(keys)) == len(keys)


@pytest.fixture
def compact(monkeypatch) -> Stage:
    """A stage that nobody declared yet: flake is pressed into pellets."""
    made_up = Stage(
        key="compact",
        title="Compact",
        summary="Press flake into pellets.",
        usual=usually("flake"),
        gives=(Output("pellets"), Output("fines", (SIDE,), ANY_POLYMER)),
        losses=(Loss("water"),),
        checks=(Field("bulk_g_l", "Bulk density", unit="g/l", limit=500, required=True),),
        settings=(Field("die_c", "Die", unit="°C", minimum=0, maximum=200),),
    )
    monkeypatch.setattr("recycling.stages.STAGES", [*STAGES, made_up])
    return made_up


def test_a_made_up_stage_is_recorded_without_other_change(compact):
    told = tell("C1: flake PET 2kg")
    entry = RunEntry(
        "compact",
        told.now,
        told.now,
        inputs=(DrawEntry(told.code("C1.1"), 1_000_000),),
        outputs=(OutputEntry("pellets", 960_000), OutputEntry("fines", 10_000, "PP")),
        losses=(LossEntry("water", 25_000),),
        settings=(SettingEntry("die_c", "140", seen="smooth"),),
        checks=(CheckEntry("bulk_g_l", "520"),),
    )
    result = run_record(told.actor, entry)
    assert result.unaccounted_mg == 5_000
    assert [(lot.form, lot.polymer, lot.role) for lot in result.lots] == [
        ("pellets", "PET", "product"),
        ("fines", "PP", "side"),
    ]
    run = told.run(result.code)
    assert [(c.key, c.value, c.within) for c in run.checks.all()] == [("bulk_g_l", "520", False)]
    assert [(s.key, s.value, s.seen) for s in run.settings_log.all()] == [
        ("die_c", "140", "smooth")
    ]
    assert audit(told.actor.workshop_id) == []


def test_a_made_up_stage_is_opened_and_closed_too(compact):
    told = tell(
        "C1: flake PET 2kg\nopen R1 compact C1.1 1kg\nR1 gives pellets 600g\nR1 draws C1.1 500g\n"
        "close R1 -> pellets 850g, ~water 30g"
    )
    assert told.border("unaccounted") == 20_000
    assert told.on_hand("C1.1") == 500_000
    assert audit(told.actor.workshop_id) == []


def test_a_made_up_stage_refuses_what_it_does_not_declare(compact):
    told = tell("C1: bottles PET 2kg")
    entry = RunEntry(
        "compact",
        told.now,
        told.now,
        inputs=(DrawEntry(told.code("C1.1"), 1_000_000),),
        outputs=(OutputEntry("filament", 1),),
        losses=(LossEntry("dust", 1),),
    )
    with pytest.raises(Refused) as refused:
        run_record(told.actor, entry)
    found = {(problem.code, problem.pointer) for problem in refused.value.problems}
    assert found == {
        ("form-wrong", "/outputs/0/form"),
        ("loss-wrong", "/losses/0/account"),
        ("value-missing", "/checks/bulk_g_l"),
    }
