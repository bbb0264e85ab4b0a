"""Files that nobody took are cleared away after the set time, and only those."""

from __future__ import annotations

import os
from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.models import EnergyFile
from recycling.tasks import energy_drafts
from tests.factories import MachineFactory, WorkshopFactory


@pytest.fixture
def folder(settings, tmp_path):
    settings.DATA_DIR, settings.ENERGY_DRAFT_DAYS = tmp_path, 7
    (tmp_path / "energy").mkdir()
    return tmp_path / "energy"


def lying(folder, actor, machine, digest: str, state: str, days: float) -> EnergyFile:
    (folder / f"{actor.workshop_id}-{digest}.csv").write_text("x")
    return EnergyFile.objects.create(
        workshop_id=actor.workshop_id,
        machine_id=machine,
        name=digest,
        digest=digest,
        size_bytes=1,
        state=state,
        brought_at=timezone.now() - timedelta(days=days),
    )


def test_old_files_go_and_young_or_busy_ones_stay(db, folder):
    actor = WorkshopFactory()
    machine = MachineFactory(actor=actor, name="Oven", kind="dryer")
    old = lying(folder, actor, machine, "old", EnergyFile.LOOKED, 8)
    lying(folder, actor, machine, "young", EnergyFile.LOOKED, 6)
    lying(folder, actor, machine, "busy", EnergyFile.TAKING, 8)
    for name, days in (("draft-ab", 8), ("draft-cd", 1)):
        (folder / name).write_text("x")
        then = (timezone.now() - timedelta(days=days)).timestamp()
        os.utime(folder / name, (then, then))
    assert energy_drafts() == 2
    left = sorted(one.name.partition("-")[2] for one in folder.iterdir())
    assert left == ["busy.csv", "cd", "young.csv"]
    old.refresh_from_db()
    assert (old.state, old.preview) == (EnergyFile.FAILED, {})
    assert "bring it again" in old.failure
    assert energy_drafts() == 0
