"""Background jobs: they commit with the data, are sent until done, and may run twice."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest
from celery import Celery
from django.db import connection, transaction
from django.utils import timezone

from recycling import jobs
from recycling.keeping import deed
from recycling.models import Composition, Job, Lot
from recycling.queries.integrity.audit import audit
from recycling.records.runs.entries import CorrectionEntry
from recycling.services.runs.corrections import posting_correct
from recycling.tasks import recompute_compositions, sweep_jobs
from tests.factories import WorkshopFactory
from tests.histories import Told
from tests.waiting import until

ROOT = Path(__file__).resolve().parent.parent.parent
STORY = """
C1: bottles PET 5kg
C2: bottles PET 5kg
R1 sort C1.1 all, C2.1 2kg -> clean bottles 6kg
R2 shred R1.1 all -> flake 5.9kg
"""


@pytest.fixture
def story(transactional_db, settings):
    settings.RECALCULATE_AT_ONCE_RUNS = 0
    settings.REDIS_URL = ""
    return Told(WorkshopFactory()).tell(STORY)


def correct_draw(story: Told) -> None:
    """Say that R1 drew 4 kg of C2, not 2 kg: all that descends must follow."""
    posting = story.posting("R1", "C2.1")
    posting_correct(story.actor, CorrectionEntry(posting, 4_000_000, "misread"))


def parts(story: Told, lot: str) -> list[int]:
    rows = Composition.objects.filter(lot__code=story.code(lot)).order_by("origin__number")
    return list(rows.values_list("mass_mg", flat=True))


def test_without_a_broker_the_job_runs_after_the_commit(story):
    correct_draw(story)
    job = Job.objects.get()
    assert job.finished_at is not None
    assert parts(story, "R2.1") == [3_277_777, 2_622_223]
    assert not Lot.objects.filter(stale=True).exists()
    assert audit(story.actor.workshop_id) == []


def test_a_correction_that_is_rolled_back_leaves_no_job(story):
    with pytest.raises(RuntimeError), transaction.atomic():
        correct_draw(story)
        raise RuntimeError
    assert not Job.objects.exists()
    assert audit(story.actor.workshop_id) == []


def test_old_figures_stand_marked_until_the_new_ones_are_complete(story, monkeypatch):
    monkeypatch.setattr(jobs, "send", lambda *job: None)
    before = parts(story, "R2.1")
    correct_draw(story)
    assert parts(story, "R2.1") == before
    assert set(Lot.objects.filter(stale=True).values_list("form", flat=True)) == {
        "clean bottles",
        "flake",
    }
    recompute_compositions(Job.objects.get().pk)
    assert parts(story, "R2.1") != before
    assert not Lot.objects.filter(stale=True).exists()


def test_a_job_that_is_delivered_twice_does_its_work_once(story):
    correct_draw(story)
    job = Job.objects.get()
    finished = job.finished_at
    recompute_compositions(job.pk)
    job.refresh_from_db()
    assert job.finished_at == finished


def test_a_broker_that_is_away_loses_no_job(story, settings, monkeypatch):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    away = Celery("away", broker=settings.REDIS_URL, set_as_current=False)
    away.conf.broker_transport_options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
    monkeypatch.setattr("recycling.celery.app", away)
    correct_draw(story)
    monkeypatch.undo()
    job = Job.objects.get()
    assert job.finished_at is None
    settings.REDIS_URL = ""
    assert sweep_jobs() == 0, "it was sent just now"
    Job.objects.update(sent_at=timezone.now() - timedelta(minutes=5))
    assert sweep_jobs() == 1
    job.refresh_from_db()
    assert job.finished_at is not None
    assert audit(story.actor.workshop_id) == []


@pytest.mark.slow
@pytest.mark.skipif(not os.environ.get("REDIS_URL"), reason="REDIS_URL names no broker")
def test_a_real_worker_does_the_job(story, settings):
    settings.REDIS_URL = os.environ["REDIS_URL"]
    worker = start_worker()
    try:
        correct_draw(story)
        until(lambda: Job.objects.get().finished_at, "the worker to do the job", pause_s=0.2)
    finally:
        worker.terminate()
        worker.wait(30)
    assert parts(story, "R2.1") == [3_277_777, 2_622_223]
    assert audit(story.actor.workshop_id) == []


def start_worker() -> subprocess.Popen[bytes]:
    """Start a worker of its own process on this test's database."""
    database = connection.settings_dict
    name = database["NAME"]
    url = f"sqlite:///{name}"
    if connection.vendor == "postgresql":
        user, host, port = database["USER"], database["HOST"], database["PORT"] or 5432
        password = f":{database['PASSWORD']}" if database["PASSWORD"] else ""
        url = f"postgres://{user}{password}@{host}:{port}/{name}"
    return subprocess.Popen(
        [sys.executable, "-m", "celery", "-A", "recycling", "worker"]
        + ["--pool", "solo", "--loglevel", "ERROR", "--without-gossip", "--without-mingle"],
        cwd=ROOT,
        env=os.environ | {"DATABASE_URL": url},
    )


def test_other_writers_of_the_process_do_not_wait_for_the_job(story, monkeypatch):
    """It runs after the lock on which the writers of a process queue was given back."""
    if connection.vendor != "sqlite":
        pytest.skip("writers queue on a lock of the process on SQLite only")
    free = []

    def look() -> None:
        free.append(deed._ONE_WRITER.acquire(blocking=False))
        if free[-1]:
            deed._ONE_WRITER.release()

    def during(job_id: int) -> None:
        other = threading.Thread(target=look)
        other.start()
        other.join()

    monkeypatch.setattr("recycling.tasks.runs.compositions_recompute", during)
    correct_draw(story)
    assert free == [True]
