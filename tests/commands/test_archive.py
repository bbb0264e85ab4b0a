"""The archive of a workshop: put back it is the same, and what is no sound archive is refused."""

from __future__ import annotations

import io
import json
import os
import random
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.ledger import guards
from recycling.ledger.models import Book, Entry, Posting
from recycling.models import Answer, Hold, Lot, Member, User, Workshop
from recycling.models.archived import ARCHIVED, LEFT_OUT
from recycling.queries.balance.balance import balance_now, stages_balance, statement
from recycling.queries.energy.stages import runs_energy
from recycling.queries.integrity import archive_facts as archives
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.origins import lot_origins
from recycling.queries.people.workshops import lead_of
from recycling.queries.runs.runs import runs_page
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.services.integrity.archive_restore import workshop_restore
from recycling.services.lots.origin_record import origin_record
from recycling.tables import integrity as files
from recycling.tables.integrity import PEOPLE, open_archive, write_archive
from shared.errors import Refused
from tests.factories import KG, START
from tests.histories import tell
from tests.queries.exported import BOOK
from tests.random_books import random_book

pytestmark = pytest.mark.django_db
FROM, TO = datetime(2020, 1, 1, tzinfo=UTC), datetime(2040, 1, 1, tzinfo=UTC)


def archive_of(workshop_id: int, people: bool = True) -> io.BytesIO:
    out = io.BytesIO()
    with archives.archived(workshop_id, people) as (about, parts):
        write_archive(out, about, parts)
    return out


def empty() -> None:
    """Take every row of every table away, as in a new service."""
    connection.check_constraints()
    with guards.lifted(connection), connection.cursor() as cursor:
        tables = [kind.model for kind in ARCHIVED] + list(LEFT_OUT)
        for model in reversed(tables):
            cursor.execute(f"DELETE FROM {model._meta.db_table}")
        connection.check_constraints()
    assert not Book.objects.exists() and not User.objects.exists()


def put_back(archive: io.BytesIO, slug: str = ""):
    with open_archive(archive) as opened:
        return workshop_restore(opened, slug)


def members_of(archive: io.BytesIO) -> dict:
    with open_archive(archive) as opened:
        return opened.manifest.members


def figures(slug: str) -> dict:
    """All that people read of a book: everything in it must be equal afterwards."""
    actor = lead_of(slug)
    assert actor is not None
    key = actor.workshop_id
    lots = Lot.objects.filter(workshop_id=key).order_by("number")
    codes = list(lots.values_list("code", flat=True))
    return {
        "now": balance_now(actor),
        "statement": statement(actor, FROM, TO),
        "stages": stages_balance(actor, FROM, TO),
        "runs": runs_page(actor, limit=200),
        "energy": runs_energy(actor, FROM, TO),
        "origins": [lot_origins(actor, code) for code in codes],
        "audit": audit(key),
        "entries": list(Entry.objects.filter(book_id=key).order_by("sequence").values()),
        "postings": list(Posting.objects.filter(entry__book_id=key).order_by("pk").values()),
    }


def assert_the_same_afterwards(slug: str) -> None:
    before, archive = figures(slug), archive_of(lead_of(slug).workshop_id)
    assert before["audit"] == [] and len(before["origins"]) > 3
    empty()
    restored = put_back(archive)
    assert (restored.slug, restored.sequence) == (slug, len(before["entries"]))
    after = figures(slug)
    for name, found in before.items():
        assert after[name] == found, name
    assert members_of(archive_of(lead_of(slug).workshop_id)) == members_of(archive)


def test_every_model_is_archived_or_left_out_with_a_reason():
    known = [kind.model for kind in ARCHIVED] + list(LEFT_OUT)
    there = {
        model
        for app in ("ledger", "recycling")
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
        if not (model._meta.auto_created and model._meta.auto_created is User)
    }
    assert set(known) == there
    assert len(known) == len(set(known))
    assert all(len(reason) > 20 for reason in LEFT_OUT.values())


def test_a_book_with_every_deed_is_the_same_afterwards():
    told = tell(BOOK)
    assert_the_same_afterwards(told.actor.slug)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_a_random_book_is_the_same_afterwards(seed):
    assert_the_same_afterwards(random_book(seed, 40).actor.slug)


@pytest.mark.slow
def test_the_demo_is_the_same_afterwards(db):
    make_season(timezone.now())
    assert_the_same_afterwards(cast.WORKSHOP.slug)


def test_the_book_goes_on_where_it_was():
    told = tell(BOOK)
    actor, archive = told.actor, archive_of(told.actor.workshop_id)
    last = Book.objects.get().last_number
    empty()
    put_back(archive)
    entry = OriginEntry("purchase", START.replace(day=20), (BagEntry(5 * KG),))
    made = origin_record(lead_of(actor.slug), entry)
    assert int(made.code[1:].partition("-")[0]) == last + 1
    assert audit(actor.workshop_id) == []
    with pytest.raises(Exception, match="append-only"), transaction.atomic():
        Posting.objects.update(mass_mg=1)


def test_answers_to_keys_are_kept():
    told = tell("C1: bottles PET 1kg")
    kept = Answer.objects.create(
        workshop_id=told.actor.workshop_id,
        key="k1",
        fingerprint="f",
        status=201,
        body='{"posting": 7}',
        created_at=timezone.now(),
    )
    archive = archive_of(told.actor.workshop_id)
    empty()
    put_back(archive)
    again = Answer.objects.get()
    assert (again.pk, again.key, again.body) == (kept.pk, "k1", '{"posting": 7}')


def test_people_are_apart_and_passwords_never_leave():
    told = tell("C1: bottles PET 1kg")
    user = User.objects.get()
    archive = archive_of(told.actor.workshop_id)
    with zipfile.ZipFile(archive) as file:
        texts = {name: file.read(name).decode() for name in file.namelist()}
    assert [name for name, text in texts.items() if "Ada" in text] == [PEOPLE]
    assert not [name for name, text in texts.items() if user.password in text]
    bare = archive_of(told.actor.workshop_id, people=False)
    empty()
    assert put_back(archive).usernames == (user.username,)
    assert not User.objects.get().has_usable_password()
    member = Member.objects.get()
    assert (member.name, member.user) == ("Ada", User.objects.get())
    empty()
    assert put_back(bare, "elsewhere").slug == "elsewhere"
    assert Member.objects.get().user is None and Member.objects.get().name == f"member {member.pk}"


def test_another_workshops_facts_are_not_in_it():
    told, other = tell(BOOK), tell(BOOK)
    archive = archive_of(told.actor.workshop_id)
    with zipfile.ZipFile(archive) as file:
        for place, kind in enumerate(ARCHIVED):
            rows = file.read(archives.member_name(place, kind)).splitlines()
            mine = kind.model._default_manager.filter(**{kind.way: told.actor.workshop_id})
            assert len(rows) == mine.count()
    strangers = Hold.objects.filter(workshop_id=other.actor.workshop_id).values_list("pk")
    assert strangers


def spoilt(archive: io.BytesIO, change) -> io.BytesIO:
    """Write an archive anew with its members changed, and a manifest that fits them."""
    with zipfile.ZipFile(archive) as file:
        said = json.loads(file.read(files.MANIFEST))
        parts = {name: file.read(name) for name in file.namelist() if name != files.MANIFEST}
    about = {key: said[key] for key in ("workshop", "sequence", "archived_at", "service")}
    change(about, parts)
    out = io.BytesIO()
    write_archive(out, about, ((name, text.splitlines(True)) for name, text in parts.items()))
    return out


def rows_changed(kind: str, change):
    def spoil(about, parts):
        name = next(name for name in parts if name.endswith(f"_{kind}.jsonl"))
        rows = [json.loads(line) for line in parts[name].splitlines()]
        change(rows)
        parts[name] = b"".join(json.dumps(row).encode() + b"\n" for row in rows)

    return spoil


FORGED = {
    "a posting of more": rows_changed("posting", lambda rows: rows[0].update(mass_mg=1)),
    "both postings of more": rows_changed(
        "posting", lambda rows: [row.update(mass_mg=row["mass_mg"] * 2) for row in rows[:2]]
    ),
    "a posting gone": rows_changed("posting", lambda rows: rows.pop()),
    "an entry gone": rows_changed("entry", lambda rows: rows.pop()),
    "a lot on hand of more": rows_changed("account", lambda rows: rows[1].update(balance_mg=9)),
    "an origin of less": rows_changed("composition", lambda rows: rows[0].update(mass_mg=3)),
    "a field too many": rows_changed("run", lambda rows: rows[0].update(extra=1)),
    "a field too few": rows_changed("run", lambda rows: rows[0].pop("stage")),
    "a time without offset": rows_changed(
        "run", lambda rows: rows[0].update(started_at="2024-01-01T00:00:00")
    ),
    "a word for a mass": rows_changed("lot", lambda rows: rows[0].update(made_mg="much")),
    "a row that is a list": rows_changed("lot", lambda rows: rows.append([])),
    "an unknown machine": rows_changed("run", lambda rows: rows[0].update(machine_id=99)),
    "two workshops": rows_changed(
        "book", lambda rows: rows.append({**rows[0], "id": rows[0]["id"] + 1})
    ),
    "another sequence": lambda about, parts: about.update(sequence=1),
    "another identity": lambda about, parts: about["workshop"].update(identity="x"),
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forged_archive_is_refused_and_nothing_is_put_back(name):
    told = tell("C1: bottles PET 5kg, 2kg\nR1 sort C1.1 4kg, C1.2 1kg -> clean bottles 4.9kg")
    archive = spoilt(archive_of(told.actor.workshop_id), FORGED[name])
    empty()
    with pytest.raises(Refused) as refused:
        put_back(archive)
    assert refused.value.problems[0].code == "archive-unsound"
    assert not Book.objects.exists() and not User.objects.exists()
    assert not guards.missing(connection)


def test_a_damaged_file_is_refused_wherever_it_is_damaged():
    told = tell("C1: bottles PET 5kg")
    whole, chance = archive_of(told.actor.workshop_id).getvalue(), random.Random(1)
    empty()
    codes = set()
    for _ in range(60):
        place = chance.randrange(len(whole))
        for file in (
            whole[:place],
            whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :],
        ):
            try:
                with open_archive(io.BytesIO(file)) as opened:
                    rows = [list(opened.rows(name)) for name in opened.names()]
            except Refused as refused:
                codes.add(refused.problems[0].code)
            else:  # a byte that says nothing, as a time of the zip's own
                with open_archive(io.BytesIO(whole)) as opened:
                    assert rows == [list(opened.rows(name)) for name in opened.names()]
    assert {"archive-unreadable", "archive-changed"} <= codes


@pytest.mark.parametrize("what", ["a word", "a part gone", "a part more"])
def test_a_zip_made_anew_that_its_manifest_does_not_fit_is_refused(what):
    told = tell("C1: bottles PET 5kg")
    with zipfile.ZipFile(archive_of(told.actor.workshop_id)) as file:
        parts = {name: file.read(name) for name in file.namelist()}
    lots = next(name for name in parts if name.endswith("_lot.jsonl"))
    if what == "a word":
        assert b"bottles" in parts[lots]
        parts[lots] = parts[lots].replace(b"bottles", b"pellets")
    elif what == "a part gone":
        del parts[lots]
    else:
        parts["facts/199_more.jsonl"] = b""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        for name, text in parts.items():
            file.writestr(name, text)
    with pytest.raises(Refused) as refused, open_archive(out):
        pass
    assert refused.value.problems[0].code == "archive-changed"


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch):
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("facts/000_book.jsonl", b"0" * 50_000_000)
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as file:
        for number in range(files.MOST_MEMBERS + 1):
            file.writestr(f"facts/{number:03}_a.jsonl", b"")
    monkeypatch.setattr(zipfile.ZipFile, "open", lambda *_: pytest.fail("it was unpacked"))
    for file in (bomb, many):
        with pytest.raises(Refused) as refused, open_archive(file):
            pass
        assert refused.value.problems[0].code == "archive-too-large"


LIMITS = ("MOST_UNPACKED", "MOST_LINE", "MOST_MANIFEST", "MOST_TIMES_SMALLER")


@pytest.mark.parametrize("limit", LIMITS)
def test_what_is_written_is_taken_back_and_all_else_is_refused(limit, monkeypatch):
    told = tell("C1: bottles PET 5kg, 2kg\nR1 sort C1.1 4kg, C1.2 1kg -> clean bottles 4.9kg")
    members = members_of(archive_of(told.actor.workshop_id))
    monkeypatch.setattr(files, "SMALL", 500)
    low, high, outcomes = 0, 100_000, []
    while high - low > 1:
        middle = (high + low) // 2
        monkeypatch.setattr(files, limit, middle)
        try:
            archive = archive_of(told.actor.workshop_id)
        except Refused as refused:
            assert refused.problems[0].code == "archive-not-written"
            outcomes.append("refused")
            low = middle
        else:
            assert members_of(archive) == members
            outcomes.append("written")
            high = middle
    assert {"refused", "written"} == set(outcomes)
    monkeypatch.setattr(files, limit, 10**9)
    archive = archive_of(told.actor.workshop_id)
    monkeypatch.setattr(files, limit, low)
    with pytest.raises(Refused), open_archive(archive):
        pass


def test_a_workshop_that_no_archive_holds_leaves_no_file(tmp_path, monkeypatch):
    told = tell("C1: bottles PET 5kg")
    monkeypatch.setattr(files, "MOST_UNPACKED", 2**10)
    with pytest.raises(CommandError, match="No archive was written.*back up the database"):
        said("archive_workshop", told.actor.slug, str(tmp_path / "shed.zip"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("names", "code"),
    [
        (["../evil.jsonl"], "archive-unreadable"),
        (["facts/000_book.jsonl"], "archive-unreadable"),
        (["manifest.json"], "archive-unreadable"),
    ],
)
def test_what_is_no_archive_is_refused(names, code):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        for name in names:
            file.writestr(name, b"{}\n")
    for wrong in (out, io.BytesIO(b""), io.BytesIO(b"PK no")):
        with pytest.raises(Refused) as refused, open_archive(wrong):
            pass
        assert refused.value.problems[0].code == code


def test_another_version_and_a_service_in_use_are_refused(monkeypatch):
    told = tell("C1: bottles PET 5kg")
    archive = archive_of(told.actor.workshop_id)
    with pytest.raises(Refused, match="empty one"):
        put_back(archive)
    newer = spoilt(archive, lambda about, parts: about["service"].update(recycling="9999_later"))
    fewer = spoilt(archive, lambda about, parts: parts.pop(archives.member_name(3, ARCHIVED[3])))
    empty()
    for wrong, code in ((newer, "archive-version"), (fewer, "archive-changed")):
        with pytest.raises(Refused) as refused:
            put_back(wrong)
        assert refused.value.problems[0].code == code
    monkeypatch.setattr(files, "VERSION", 2)
    with pytest.raises(Refused) as refused:
        put_back(archive)
    assert refused.value.problems[0].code == "archive-version"


def said(*command: str) -> str:
    out = io.StringIO()
    call_command(*command, stdout=out, stderr=io.StringIO())
    return out.getvalue()


def test_the_commands_write_and_put_back(tmp_path: Path):
    told = tell(BOOK)
    file = tmp_path / "shed.zip"
    slug = told.actor.slug
    assert "facts up to entry" in said("archive_workshop", slug, str(file))
    assert list(tmp_path.iterdir()) == [file]
    with pytest.raises(CommandError, match="there already"):
        said("archive_workshop", slug, str(file))
    with pytest.raises(CommandError, match="no workshop"):
        said("archive_workshop", "nowhere", str(tmp_path / "b.zip"))
    with pytest.raises(CommandError, match="nothing was put back"):
        said("restore_workshop", str(file))
    empty()
    with pytest.raises(CommandError, match="small letters"):
        said("restore_workshop", str(file), "--slug", "No Name")
    text = said("restore_workshop", str(file), "--slug", "new-home")
    assert "the audit finds nothing" in text and "manage.py changepassword lead" in text
    assert Workshop.objects.get().slug == "new-home"
    with pytest.raises(CommandError, match="No such file"):
        said("restore_workshop", str(tmp_path / "none.zip"))


def test_the_other_database_gives_the_same_archive_and_takes_it_back(tmp_path: Path):
    """Runs on PostgreSQL: from there to the embedded database in a process of its own, and back."""
    if connection.vendor != "postgresql":
        pytest.skip("this needs DATABASE_URL=postgres://…")
    with connection.cursor() as cursor:  # the other process takes its time
        cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")
    told = random_book(5)
    slug, first = told.actor.slug, archive_of(told.actor.workshop_id)
    (tmp_path / "first.zip").write_bytes(first.getvalue())
    before = figures(slug)
    root = Path(__file__).resolve().parents[2]
    there = os.environ | {"DATABASE_URL": f"sqlite:///{tmp_path / 'there.sqlite3'}"}
    for command in (
        ["migrate", "--verbosity=0"],
        ["restore_workshop", str(tmp_path / "first.zip")],
        ["archive_workshop", slug, str(tmp_path / "second.zip")],
    ):
        done = subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=root,
            env=there,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
    second = io.BytesIO((tmp_path / "second.zip").read_bytes())
    assert members_of(second) == members_of(first)
    empty()
    put_back(second)
    after = figures(slug)
    for name, found in before.items():
        assert after[name] == found, name
