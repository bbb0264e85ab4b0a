"""An archive is made in the background: whole or not at all, for leads, and not for ever."""

from __future__ import annotations

import hashlib
import stat
from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from django.db import OperationalError
from django.utils import timezone

from recycling import jobs
from recycling.keeping.expired_files import archives_clear
from recycling.models import ChangeEvent, Job, WorkshopArchive
from recycling.queries.integrity.archives import archive_file, archive_made, archives_made
from recycling.records.integrity import ArchiveEntry
from recycling.services.integrity import archive_make as made
from recycling.services.integrity.archive_make import TASK, archive_ask, archive_make
from recycling.tables import integrity as files
from recycling.tables.integrity import PEOPLE, open_archive
from shared.errors import Forbidden, Unknown
from tests.factories import MemberFactory, OriginFactory
from tests.histories import tell

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(tmp_path, settings):
    settings.DATA_DIR, settings.ARCHIVE_HOURS = tmp_path, 2
    return tell("C1: bottles PET 5kg\nR1 sort C1.1 4kg -> clean bottles 3.9kg")


def asked(told, people: bool = True) -> int:
    return archive_ask(told.actor, ArchiveEntry(people))


def work() -> int:
    job = Job.objects.filter(task=TASK).latest("pk").pk
    assert archive_make(job)
    return job


def lying() -> list[Path]:
    from django.conf import settings

    return sorted(Path(settings.DATA_DIR, "archives").glob("*"))


def test_it_is_asked_for_noted_made_and_fetched(told):
    number = asked(told)
    assert archive_made(told.actor, number).state == "making" and not lying()
    with pytest.raises(Unknown):
        archive_file(told.actor, number)
    job = work()
    found = archive_made(told.actor, number)
    assert (found.state, found.done_share, found.sequence) == ("ready", 1.0, 2)
    name, place = archive_file(told.actor, number)
    held = place.read_bytes()
    assert (len(held), hashlib.sha256(held).hexdigest()) == (found.size_bytes, found.digest)
    assert name == found.name and lying() == [place]
    assert stat.S_IMODE(place.stat().st_mode) == 0o600, "nobody else on the machine reads it"
    with open_archive(place) as archive:
        assert PEOPLE in archive.names()
    assert Job.objects.get(pk=job).finished_at and not archive_make(job)
    event = ChangeEvent.objects.get(deed="ask archive")
    assert (event.subject, event.actor) == ("archive 1", told.actor.reference)


def test_people_may_be_left_out_and_one_that_is_being_made_is_not_made_twice(told):
    assert asked(told) == asked(told) == 1
    assert asked(told, people=False) == 2
    work()
    with open_archive(archive_file(told.actor, 2)[1]) as archive:
        assert PEOPLE not in archive.names()
    assert [one.number for one in archives_made(told.actor)] == [2, 1]


def test_a_file_expires_and_is_cleared_away(told):
    asked(told)
    work()
    place = archive_file(told.actor, 1)[1]
    assert archives_clear() == 0
    with time_machine.travel(timezone.now() + timedelta(hours=2, seconds=1)):
        assert archive_made(told.actor, 1).state == "expired" and place.exists()
        with pytest.raises(Unknown):
            archive_file(told.actor, 1)
        assert archives_clear() == 1 and lying() == []


def test_two_that_make_it_at_once_leave_the_file_of_the_one_that_counts(told, monkeypatch):
    """A job that takes long is sent again while it is still being done."""
    asked(told)
    job, usual, inside = Job.objects.get(task=TASK).pk, made.archive_into, []

    def slow(*given):
        found = usual(*given)
        if not inside:
            inside.append(1)
            OriginFactory(actor=told.actor)
            with monkeypatch.context() as other:
                other.setattr(made.os, "getpid", lambda: 1)
                assert archive_make(job)
        return found

    monkeypatch.setattr(made, "archive_into", slow)
    archive_make(job)
    found, (place,) = archive_made(told.actor, 1), lying()
    assert hashlib.sha256(place.read_bytes()).hexdigest() == found.digest


def test_what_cannot_be_put_back_is_not_offered(told, monkeypatch):
    monkeypatch.setattr(files, "MOST_UNPACKED", 2**10)
    asked(told)
    work()
    found = archive_made(told.actor, 1)
    assert found.state == "failed" and "could not be put back" in found.failure
    assert lying() == []


def test_what_breaks_is_told_and_a_database_that_is_away_is_asked_again(told, monkeypatch):
    asked(told)
    job = Job.objects.get(task=TASK).pk

    def away(*_args):
        raise OperationalError("gone")

    usual = made.archive_into
    monkeypatch.setattr(made, "archive_into", away)
    with pytest.raises(OperationalError):
        archive_make(job)
    assert archive_made(told.actor, 1).state == "making" and lying() == []
    assert not Job.objects.get(pk=job).finished_at
    monkeypatch.setattr(made, "archive_into", usual)
    monkeypatch.setattr(made, "open_archive", lambda _file: 1 / 0)
    assert archive_make(job)
    assert archive_made(told.actor, 1).failure == made.BROKE and lying() == []


def test_without_a_broker_it_is_made_as_soon_as_it_is_asked_for(told, settings):
    settings.REDIS_URL = ""
    asked(told)
    job = Job.objects.get(task=TASK)
    jobs.send(job.pk, job.task)
    assert archive_made(told.actor, 1).state == "ready"


def test_only_leads_ask_and_of_their_own_workshop(told):
    for role in ("operator", "viewer"):
        with pytest.raises(Forbidden):
            archive_ask(MemberFactory(actor=told.actor, role=role), ArchiveEntry())
    assert not WorkshopArchive.objects.exists()
    asked(told)
    work()
    other = tell("C1: bottles PET 1kg").actor
    for read in (archive_made, archive_file):
        with pytest.raises(Unknown):
            read(other, 1)
    assert archives_made(other) == []
