"""A report is read at one moment: what is written while it is made is in none of its sums."""

from __future__ import annotations

import threading

import pytest
from django.db import connection, connections, transaction

from recycling import jobs
from recycling.ledger.models import Book
from recycling.ledger.snapshots import snapshot
from recycling.models import FrozenReport, Job, ReportFile, Source
from recycling.reports.asked import report_file
from recycling.services.reports import make as making
from recycling.services.reports.ask import report_ask
from recycling.services.reports.make import report_make
from recycling.tables.reports.json_file import read_report
from tests.factories import WorkshopFactory
from tests.histories import Told
from tests.reports.conftest import STORY, entry


def apart(deed) -> None:
    """Do something on a connection of its own, and wait for it."""
    failed = []

    def work() -> None:
        try:
            deed()
        except BaseException as error:
            failed.append(error)
        finally:
            connections.close_all()

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(30)
    assert not thread.is_alive() and not failed, failed


@pytest.fixture
def told(transactional_db, monkeypatch):
    monkeypatch.setattr(jobs, "send", lambda *job: None)
    return Told(WorkshopFactory()).tell(STORY)


def test_others_write_while_a_snapshot_reads_and_it_does_not_see_them(told):
    with snapshot():
        before = Source.objects.count()
        apart(lambda: Source.objects.create(workshop_id=told.actor.workshop_id, name="new"))
        assert Source.objects.count() == before
        with transaction.atomic():
            assert Source.objects.count() == before, "a savepoint inside stays in the snapshot"
    assert Source.objects.count() == before + 1
    with transaction.atomic():
        assert not connection.needs_rollback


def test_entries_that_come_while_a_report_is_read_are_not_in_it(told, monkeypatch):
    report_ask(told.actor, entry())
    job = Job.objects.latest("pk").pk
    real, sequences = making.document_of, []

    def document_of(actor, question):
        sequences.append(Book.objects.get(pk=actor.workshop_id).last_sequence)
        apart(lambda: told.tell("C3: bottles PET 7kg @60"))
        found = real(actor, question)
        apart(lambda: told.tell("C4: bottles PET 9kg @61"))
        return found

    with monkeypatch.context() as patch:
        patch.setattr(making, "document_of", document_of)
        assert report_make(job)
    assert Book.objects.get(pk=told.actor.workshop_id).last_sequence == sequences[0] + 2
    document = read_report(report_file(told.actor, "D1-K", "json")[1].decode()).document
    assert document.sequence == sequences[0]
    tables = {table.key: table for part in document.sections for table in part.tables}
    collected = dict(
        zip(
            (one.key for one in tables["counters"].columns), tables["counters"].rows[0], strict=True
        )
    )
    assert collected["mass_mg"] == 10_200_000, "what was told before, and nothing that came since"


def test_two_workers_at_once_make_one_report(told, monkeypatch):
    report_ask(told.actor, entry())
    job, gate = Job.objects.latest("pk").pk, threading.Barrier(2, timeout=30)
    real, made = making.files_of, []

    def files_of(body):
        found = real(body)
        gate.wait()
        return found

    monkeypatch.setattr(making, "files_of", files_of)

    def work() -> None:
        made.append(report_make(job))

    first = threading.Thread(target=lambda: apart(work))
    first.start()
    apart(work)
    first.join(30)
    assert sorted(made) == [False, True]
    assert (FrozenReport.objects.count(), ReportFile.objects.count()) == (1, 5)
