"""Lots that wait to be recomputed wait for a job, never for each other, and never for ever."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import timedelta
from itertools import permutations

import pytest
import time_machine
from django.conf import settings as configured
from django.db import OperationalError, connections
from django.test import Client
from django.utils import timezone

from recycling import jobs
from recycling.keeping import compositions
from recycling.models import Job, Lot, Run
from recycling.queries.integrity.audit import audit
from recycling.tasks import recompute_compositions, sweep_jobs
from tests.factories import KeyFactory, WorkshopFactory
from tests.histories import Told
from tests.serving import ROOT

STORY = """
C1: bottles PET 5kg, 5kg
C2: bottles PET 5kg, 5kg
C3: bottles PET 5kg
R1 sort C1.1 2kg, C2.1 1kg -> clean bottles 3kg
R2 sort C2.2 2kg, C3.1 1kg -> clean bottles 3kg
R3 sort C1.2 2kg, C3.1 1kg -> clean bottles 3kg
R4 shred R1.1 1kg, R2.1 1kg -> flake 2kg
R5 shred R3.1 1kg, R1.1 1kg -> flake 2kg
R6 dry R4.1 1kg, R5.1 1kg -> dried flake 2kg
"""
CORRECTED = (("R1", "C1.1"), ("R2", "C3.1"), ("R3", "C1.2"))


@pytest.fixture
def told(transactional_db, settings) -> Told:
    settings.RECALCULATE_AT_ONCE_RUNS = 0
    settings.REDIS_URL = ""
    return Told(WorkshopFactory()).tell(STORY)


@pytest.fixture
def unsent(monkeypatch):
    """Let jobs wait, as where no worker runs."""
    with monkeypatch.context() as patch:
        patch.setattr(jobs, "send", lambda *job: None)
        yield patch


def correct(told: Told, mass: str = "1.5kg") -> list[int]:
    """Correct one draw of each of three runs whose descents meet; name the jobs."""
    for run, lot in CORRECTED:
        told.correct(told.posting(run, lot), mass)
    return list(Job.objects.order_by("pk").values_list("pk", flat=True))


def overdue() -> None:
    Job.objects.update(sent_at=timezone.now() - timedelta(minutes=5))


@pytest.mark.parametrize("order", list(permutations(range(3))), ids=str)
def test_of_jobs_whose_descents_meet_the_first_does_it(told, unsent, order):
    made = correct(told)
    assert Lot.objects.filter(stale=True).count() == 6
    for place in order:
        recompute_compositions(made[place])
        assert not Lot.objects.filter(stale=True).exists()
    assert not Job.objects.filter(finished_at=None).exists()
    assert audit(told.actor.workshop_id) == []


def test_workers_that_take_them_at_the_same_moment_leave_nothing(told, unsent):
    made, gate, failed = correct(told), threading.Barrier(3, timeout=60), []

    def work(job: int) -> None:
        try:
            gate.wait()
            recompute_compositions(job)
        except BaseException as error:
            failed.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work, args=(job,)) for job in made]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not failed
    assert not Lot.objects.filter(stale=True).exists()
    assert audit(told.actor.workshop_id) == []


@pytest.mark.parametrize("place", ["_replace", "_masses"])
def test_a_worker_that_ends_in_the_middle_leaves_the_old_figures_and_the_job(told, unsent, place):
    before = told.composition("R6.1")
    first = correct(told)[0]

    class Killed(BaseException):
        pass

    def end(*given):
        raise Killed

    with unsent.context() as patch, pytest.raises(Killed):
        patch.setattr(compositions, place, end)
        recompute_compositions(first)
    assert told.composition("R6.1") == before
    assert Job.objects.filter(finished_at=None).count() == 3
    unsent.undo()
    overdue()
    assert sweep_jobs() == 3
    assert not Lot.objects.filter(stale=True).exists()
    assert audit(told.actor.workshop_id) == []


def test_what_was_left_waiting_is_named_by_the_audit_and_done_by_the_sweeper(told, unsent):
    """As a version left it in which such jobs ended without doing their work."""
    correct(told)
    Job.objects.update(finished_at=timezone.now())
    (found,) = audit(told.actor.workshop_id)
    assert found.invariant == 10 and told.code("R6.1") in found.subject
    assert "no job is left" in found.detail
    unsent.undo()
    assert sweep_jobs() == 1
    assert audit(told.actor.workshop_id) == []
    assert sweep_jobs() == 0


def test_a_job_that_gives_up_is_not_begun_again_at_once_but_a_day_later(told, unsent):
    correct(told)
    Job.objects.update(finished_at=timezone.now(), failure="It was begun three times.")
    assert sweep_jobs() == 0
    assert len(audit(told.actor.workshop_id)) == 1
    unsent.undo()
    with time_machine.travel(timezone.now() + timedelta(days=1, seconds=1)):
        assert sweep_jobs() == 1
    assert audit(told.actor.workshop_id) == []


def test_a_correction_that_comes_after_one_that_gave_up_does_its_work_too(told, unsent):
    correct(told)
    Job.objects.update(finished_at=timezone.now(), failure="It was begun three times.")
    unsent.undo()
    correct(told, "1.2kg")
    assert audit(told.actor.workshop_id) == []


def test_the_audit_names_what_waits_for_longer_than_it_may(told, unsent):
    correct(told)
    asked = Job.objects.earliest("created_at").created_at
    may = timedelta(minutes=configured.RECALCULATE_WITHIN_MINUTES)
    with time_machine.travel(asked + may - timedelta(seconds=1), tick=False):
        assert audit(told.actor.workshop_id) == []
    with time_machine.travel(asked + may + timedelta(seconds=1), tick=False):
        (found,) = audit(told.actor.workshop_id)
    assert "longer than 20 minutes" in found.detail


def no_import(name: str):
    raise ImportError("cannot import name from a partially initialized module")


def no_update(*args, **kwargs):
    raise OperationalError("database is locked")


@pytest.mark.parametrize(
    "what, broken",
    [("recycling.jobs.import_module", no_import), ("recycling.jobs._note_sent", no_update)],
)
def test_what_fails_after_the_commit_fails_no_deed(told, monkeypatch, what, broken):
    key = KeyFactory(actor=told.actor, scope="record").secret
    posting = told.posting("R1", "C1.1")
    with monkeypatch.context() as patch:
        patch.setattr(what, broken)
        answer = Client().post(
            f"/api/v1/postings/{posting}/corrections/",
            {"mass_mg": 1_500_000, "reason": "misread"},
            content_type="application/json",
            headers={"Authorization": f"Bearer {key}", "Idempotency-Key": "one"},
        )
    assert answer.status_code == 201, answer.content
    assert Job.objects.get().finished_at is None
    overdue()
    assert sweep_jobs() == 1
    assert audit(told.actor.workshop_id) == []


def test_one_job_that_cannot_be_sent_keeps_no_other_back(told, unsent, monkeypatch):
    made = correct(told)
    unsent.undo()
    real = jobs._note_sent

    def one_fails(job_id: int) -> None:
        if job_id == made[0]:
            raise OperationalError("database is locked")
        real(job_id)

    monkeypatch.setattr(jobs, "_note_sent", one_fails)
    overdue()
    assert sweep_jobs() == 3
    assert list(Job.objects.filter(finished_at=None).values_list("pk", flat=True)) == made[:1]
    assert audit(told.actor.workshop_id) == []


FIRST_JOBS = """
import threading, django
django.setup()
from recycling import jobs
gate, told = threading.Barrier(8), []
def work():
    gate.wait()
    try:
        told.append(jobs.task_named("recycling.recompute_compositions").name)
    except BaseException as error:
        told.append(repr(error))
threads = [threading.Thread(target=work) for _ in range(8)]
[one.start() for one in threads]
[one.join() for one in threads]
print(*sorted(set(told)))
"""


@pytest.mark.slow
def test_the_first_jobs_of_a_fresh_process_all_find_their_task():
    done = subprocess.run(
        [sys.executable, "-c", FIRST_JOBS],
        cwd=ROOT,
        env=os.environ | {"DJANGO_SETTINGS_MODULE": "recycling.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "recycling.recompute_compositions"


@pytest.mark.parametrize(
    "place, recorded",
    [
        ("api.protocol.requests._answer", True),
        ("recycling.services.runs.run_record.compose_outputs", False),
    ],
)
def test_an_answer_that_breaks_says_whether_it_is_in_the_book(told, monkeypatch, place, recorded):
    key = KeyFactory(actor=told.actor, scope="record").secret
    runs = Run.objects.count()

    def breaks(*args, **kwargs):
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr(place, breaks)
    client = Client(raise_request_exception=False)
    at = told.now.isoformat()
    entry = {"stage": "shred", "started_at": at, "ended_at": at}
    entry |= {"inputs": [{"lot": told.code("R2.1"), "mass_mg": 1000}]}
    entry |= {"outputs": [{"form": "flake", "mass_mg": 1000}]}
    entry |= {"machine": Run.objects.get(code=told.code("R4")).machine_id}
    answer = client.post(
        "/api/v1/runs/",
        entry,
        content_type="application/json",
        headers={"Authorization": f"Bearer {key}", "Idempotency-Key": "two"},
    )
    assert answer.status_code == 500, answer.content
    assert Run.objects.count() == runs + recorded
    said = "is recorded: it is in the book" if recorded else "Nothing was recorded"
    assert said in answer.json()["detail"]
    again = client.get("/api/v1/nowhere/", headers={"Authorization": f"Bearer {key}"})
    assert again.status_code == 404
