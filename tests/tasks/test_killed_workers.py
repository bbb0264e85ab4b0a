"""Kill -9 of background workers amid their work: each job is done, once, and nothing is half.

``KILLS`` sets how many workers are killed. A lock on a table keeps a job from going on, so that
the kill meets it there however fast or slow the machine is.
"""

from __future__ import annotations

import hashlib
import itertools
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from recycling import jobs
from recycling.celery import app
from recycling.keeping.expired_files import archives_clear
from recycling.models import Job, Report, WorkshopArchive
from recycling.queries.integrity.archives import archive_place
from recycling.queries.integrity.audit import audit
from recycling.records.integrity import ArchiveEntry
from recycling.records.reports.rows import ReportEntry
from recycling.services.integrity.archive_make import archive_ask
from recycling.services.reports.ask import report_ask
from recycling.tasks import sweep_jobs
from tests.factories import OriginFactory
from tests.serving import ROOT, database_url
from tests.waiting import held_up, until

KILLS = int(os.environ.get("KILLS", "4"))
READ, WRITTEN = "IN ACCESS EXCLUSIVE MODE", "IN SHARE MODE"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        not os.environ.get("REDIS_URL") or "sqlite" in settings.DATABASE_URL,
        reason="REDIS_URL names no broker, or the tables of this database cannot be locked",
    ),
]


class Workers:
    """A background worker with two processes, in a group of its own."""

    def __init__(self, data: Path):
        self.data = data
        self.begin()

    def begin(self) -> None:
        command = [sys.executable, "-m", "celery", "-A", "recycling", "worker", "--concurrency"]
        self.main = subprocess.Popen(
            [*command, "2", "--loglevel", "ERROR", "--without-gossip", "--without-mingle"],
            cwd=ROOT,
            env=os.environ | {"DATABASE_URL": database_url(), "DATA_DIR": str(self.data)},
            start_new_session=True,
        )

    def kill_processes(self) -> None:
        """Kill those that do the work; the one that keeps them starts others."""
        kept = Path(f"/proc/{self.main.pid}/task/{self.main.pid}/children").read_text().split()
        assert kept
        for pid in kept:
            os.kill(int(pid), signal.SIGKILL)

    def kill_all(self) -> None:
        os.killpg(self.main.pid, signal.SIGKILL)
        self.main.wait()


@pytest.fixture
def workers(tmp_path, settings) -> Iterator[Workers]:
    settings.DATA_DIR, settings.REDIS_URL = tmp_path, os.environ["REDIS_URL"]
    workers = Workers(tmp_path)
    try:
        yield workers
    finally:
        workers.kill_all()


def ask_for_report(actor) -> Report:
    code = report_ask(actor, ReportEntry(date(2024, 1, 1), date(2024, 3, 31)))
    return Report.objects.get(workshop_id=actor.workshop_id, code=code)


def ask_for_archive(actor) -> WorkshopArchive:
    number = archive_ask(actor, ArchiveEntry())
    return WorkshopArchive.objects.get(workshop_id=actor.workshop_id, number=number)


def finish(job: Job) -> None:
    """Sweep until a job is done, whether or not its message got lost with the worker."""
    polls = itertools.count()

    def finished() -> datetime | None:
        if next(polls) % 500 == 0:
            Job.objects.filter(pk=job.pk).update(sent_at=timezone.now() - timedelta(minutes=5))
            sweep_jobs()
        return Job.objects.get(pk=job.pk).finished_at

    until(finished, "the job")


def report_is_whole(report: Report) -> None:
    report.refresh_from_db()
    assert (report.state, report.failure) == (Report.READY, "")
    files = report.frozen.files.all()
    assert {one.kind for one in files} == {"pdf", "xlsx", "csv", "json", "html"}
    assert all(hashlib.sha256(one.held).hexdigest() == one.digest for one in files)


def archive_is_whole(archive: WorkshopArchive) -> None:
    archive.refresh_from_db()
    assert (archive.state, archive.failure) == (WorkshopArchive.READY, "")
    held = archive_place(archive).read_bytes()
    assert hashlib.sha256(held).hexdigest() == archive.digest


@pytest.mark.parametrize(
    "ask, places, whole",
    [
        (
            ask_for_report,
            (f"recycling_lot {READ}", f"recycling_frozenreport {WRITTEN}"),
            report_is_whole,
        ),
        (
            ask_for_archive,
            (f"recycling_lot {READ}", f"recycling_workshoparchive {WRITTEN}"),
            archive_is_whole,
        ),
    ],
    ids=["report", "archive"],
)
def test_a_job_outlives_its_worker(ask, places, whole, workers, lead, capsys, monkeypatch):
    OriginFactory(actor=lead)
    kills = max(2, KILLS // 2)
    for kill in range(kills):
        with monkeypatch.context() as unsent:
            unsent.setattr(jobs, "send", lambda *job: None)
            row = ask(lead)
        job = Job.objects.latest("pk")
        with held_up(places[kill % 2], partial(app.send_task, job.task, [job.pk], retry=False)):
            if kill % 4 == 1:
                workers.kill_all()
            else:
                workers.kill_processes()
            assert Job.objects.get(pk=job.pk).finished_at is None
        if kill % 4 == 1:
            workers.begin()
        finish(job)
        whole(row)
    rows = type(row).objects.filter(workshop_id=lead.workshop_id)
    assert rows.count() == kills
    for one in rows:
        whole(one)
    if ask is ask_for_archive:
        until(lambda: no_drafts_left(row), "drafts to be cleared away")
    assert audit(lead.workshop_id) == []
    with capsys.disabled():
        print(f"\n{connection.vendor}: {kills} kills of workers", end=" ")  # noqa: T201


def no_drafts_left(archive: WorkshopArchive) -> bool:
    archives_clear()
    return not list(archive_place(archive).parent.glob("*.part"))
