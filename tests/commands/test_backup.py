"""Backups of the whole service: made while it works, put back into an empty place, or refused."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import threading
import uuid
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, connections
from django.test import override_settings

from recycling.ledger.models import Posting
from recycling.management import backups
from recycling.records.lots.origin_entries import BagEntry
from recycling.services.people.erasures import source_erase
from tests.factories import KG, OriginFactory, SourceFactory, WorkshopFactory
from tests.serving import ROOT, database_url
from tests.waiting import until

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def lead(db):
    actor = WorkshopFactory(slug="quay", zone="Europe/Lisbon")
    collect(actor)
    return actor


def collect(actor) -> None:
    put = (BagEntry(5 * KG, form="bottles", polymer="PET"), BagEntry(KG, "caps", "HDPE"))
    OriginFactory(actor=actor, bags=put)


@contextmanager
def work_going_on(actor):
    """Record collections in a thread of its own, as many as there is time for."""
    done, counted, failures = threading.Event(), [], []

    def work() -> None:
        try:
            while not done.is_set():
                collect(actor)
                counted.append(1)
        except BaseException as error:
            failures.append(error)
        finally:
            connections.close_all()

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield counted
    finally:
        done.set()
        thread.join()
    assert not failures


def said(*command: str) -> str:
    out = io.StringIO()
    call_command(*command, stdout=out)
    return out.getvalue()


@dataclass
class Elsewhere:
    """An empty database of the kind that the tests use, and our commands in it."""

    url: str

    def run(self, *command: str, **settings: str) -> subprocess.CompletedProcess:
        return subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=ROOT,
            env=os.environ | {"DATABASE_URL": self.url} | settings,
            capture_output=True,
            text=True,
        )


@pytest.fixture
def elsewhere(tmp_path, db):
    if connection.vendor == "sqlite":
        yield Elsewhere(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}")
        return
    name = f"elsewhere_{uuid.uuid4().hex[:8]}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        yield Elsewhere(f"{database_url().rpartition('/')[0]}/{name}")
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


def backup(folder: Path) -> tuple[Path, dict]:
    said("backup", str(folder))
    (made,) = folder.iterdir()
    return made, json.loads((made / "manifest.json").read_text())


def test_what_is_put_back_is_whole_though_work_went_on(lead, tmp_path, elsewhere):
    """A collection is in it with all its bags or not at all; what was there before is."""
    before = Posting.objects.count()
    with work_going_on(lead) as counted:
        until(lambda: len(counted) > 2, "collections")
        made, manifest = backup(tmp_path / "backups")
    after = Posting.objects.count()
    assert before < manifest["postings"] <= after and manifest["postings"] % 4 == 0
    assert oct(made.stat().st_mode)[-3:] == "700"
    put_back = elsewhere.run("restore", str(made))
    assert put_back.returncode == 0, put_back.stderr
    assert f"Put back {manifest['postings']} postings" in put_back.stdout
    assert "quay: no findings" in put_back.stdout
    again = elsewhere.run("backup", str(tmp_path / "again"))
    assert again.returncode == 0, again.stderr
    ((second,),) = [tuple((tmp_path / "again").iterdir())]
    told = json.loads((second / "manifest.json").read_text())
    assert told["postings_sha256"] == manifest["postings_sha256"]
    refused = elsewhere.run("restore", str(made))
    assert refused.returncode == 1 and "empty database only" in refused.stderr


def test_what_was_put_back_is_worked_with(lead, tmp_path, elsewhere):
    made, _manifest = backup(tmp_path / "backups")
    assert elsewhere.run("restore", str(made)).returncode == 0
    key = elsewhere.run("device_key", "quay", lead.name, "--scope", "record")
    assert key.returncode == 0 and key.stdout.strip(), key.stderr


def test_who_was_erased_since_is_erased_again(lead, tmp_path, elsewhere):
    """Article 17 of Regulation (EU) 2016/679: a name that was erased does not come back."""
    erasures = tmp_path / "erasures.jsonl"
    pk = SourceFactory(actor=lead, name="Ottoline Farraway")
    made, _manifest = backup(tmp_path / "backups")
    with override_settings(ERASURES_FILE=erasures):
        source_erase(lead, pk)
    put_back = elsewhere.run("restore", str(made), "--erasures", str(erasures))
    assert put_back.returncode == 0 and "Erased again: 1." in put_back.stdout, put_back.stderr
    again = elsewhere.run("restore", str(made), "--erasures", str(erasures))
    assert again.returncode == 1, "into an empty place only"


def test_a_file_that_was_changed_is_not_put_back(lead, tmp_path, elsewhere):
    made, manifest = backup(tmp_path / "backups")
    file = made / manifest["file"]
    whole = file.read_bytes()
    file.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    refused = elsewhere.run("restore", str(made))
    assert refused.returncode == 1 and "Nothing was put back" in refused.stderr
    assert "is not the file that was backed up" in refused.stderr
    file.write_bytes(whole)
    assert elsewhere.run("restore", str(made)).returncode == 0, "nothing was in the way"


@pytest.mark.parametrize("spoil", ["no manifest", "no json", "another kind", "another file"])
def test_what_is_no_whole_backup_is_refused(lead, tmp_path, spoil):
    made, manifest = backup(tmp_path / "backups")
    file = made / "manifest.json"
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    if spoil == "no manifest":
        file.unlink()
    elif spoil == "no json":
        file.write_text("{")
    elif spoil == "another kind":
        (made / backups.FILES[other]).write_bytes((made / manifest["file"]).read_bytes())
        file.write_text(json.dumps(manifest | {"engine": other, "file": backups.FILES[other]}))
    else:
        file.write_text(json.dumps(manifest | {"file": "../book"}))
    says = f"a backup of {other}" if spoil == "another kind" else "is no whole backup"
    with pytest.raises(CommandError, match=says):
        said("restore", str(made))


def test_a_database_that_holds_something_is_left_alone(lead, tmp_path):
    made, _manifest = backup(tmp_path / "backups")
    before = Posting.objects.count()
    with pytest.raises(CommandError, match="empty database only"):
        said("restore", str(made))
    assert Posting.objects.count() == before


def test_a_backup_that_fails_leaves_nothing_behind(lead, tmp_path, monkeypatch):
    kept, _manifest = backup(tmp_path)
    monkeypatch.setattr(backups, "_digest_of", lambda file: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        said("backup", str(tmp_path), "--keep", "1")
    assert list(tmp_path.iterdir()) == [kept], "and the one before is kept"


def test_older_backups_go_once_a_new_one_is_whole(lead, tmp_path):
    for _turn in range(3):
        said("backup", str(tmp_path))
    unfinished, foreign = tmp_path / "2000-01-01T000000Z", tmp_path / "notes.txt"
    unfinished.mkdir()
    foreign.write_text("mine")
    oldest = sorted(one.parent for one in tmp_path.glob("*/manifest.json"))[:2]
    out = said("backup", str(tmp_path), "--keep", "2")
    assert [line.strip() for line in out.splitlines()[1:]] == [f"removed {one}" for one in oldest]
    assert len(list(tmp_path.glob("*/manifest.json"))) == 2
    assert unfinished.exists() and foreign.exists(), "what is not ours is left alone"
    with pytest.raises(CommandError, match="1 or more"):
        said("backup", str(tmp_path), "--keep", "0")


def test_a_signed_backup_is_put_back_and_an_altered_one_is_not(lead, tmp_path, elsewhere):
    key = tmp_path / "key"
    key.write_text("k" * 64)
    with override_settings(BACKUP_KEY_FILE=str(key)):
        made, manifest = backup(tmp_path / "backups")
    whole, signed = (made / "manifest.json").read_text(), {"BACKUP_KEY_FILE": str(key)}
    (made / "manifest.json").write_text(json.dumps(manifest | {"postings": 1}))
    refused = elsewhere.run("restore", str(made), **signed)
    assert refused.returncode == 1 and "The signature does not fit" in refused.stderr
    (made / "manifest.json").write_text(whole)
    put_back = elsewhere.run("restore", str(made), **signed)
    assert put_back.returncode == 0, put_back.stderr
    assert "Signed with the key" in put_back.stdout and "no findings" in put_back.stdout
