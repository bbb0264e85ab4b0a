"""Names change and are erased; masses, entries and frozen reports stay as they were."""

from __future__ import annotations

import importlib
import json
from datetime import UTC, datetime

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection, models

from recycling.keeping.changes import keep_change
from recycling.keeping.names import read_erasures, write_erasures
from recycling.models import (
    Answer,
    ChangeEvent,
    DeviceKey,
    EarlierName,
    ImportFile,
    ImportLine,
    ListAnswer,
    Lot,
    Member,
    Origin,
    Source,
    User,
)
from recycling.queries.integrity.audit import audit
from recycling.queries.people.members import members
from recycling.queries.setup.register import source as source_shown
from recycling.records.people import MemberChange
from recycling.records.setup.changes import SourceChange
from recycling.services.people.erasures import erasures_replay, member_erase, source_erase
from recycling.services.people.members import member_change
from recycling.services.setup.change import source_change
from shared.errors import Unknown
from tests.factories import KeyFactory, MemberFactory, OriginFactory, SourceFactory, WorkshopFactory
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db
GIVER, WORKER = "Ottoline Farraway", "Barnaby Quillfeather"


@pytest.fixture
def erasures(settings, tmp_path):
    settings.ERASURES_FILE = tmp_path / "erasures.jsonl"
    return settings.ERASURES_FILE


@pytest.fixture
def worker(lead):
    return MemberFactory(actor=lead, name=WORKER, username="barnaby")


def everything_kept() -> str:
    """Write out every text of every table, as somebody with the database could read it."""
    said = []
    for model in apps.get_models():
        kinds = (models.CharField, models.TextField, models.JSONField)
        names = [one.attname for one in model._meta.concrete_fields if isinstance(one, kinds)]
        said += [json.dumps(row, ensure_ascii=False) for row in model.objects.values_list(*names)]
    return "\n".join(said)


def let_go(lead, member) -> None:
    member_change(lead, member.member_id, MemberChange(active=False))


def test_a_member_is_called_otherwise_on_earlier_entries_too(lead, worker):
    changed = member_change(lead, worker.member_id, MemberChange(name=" Barnaby Reed "))
    assert changed.name == "Barnaby Reed"
    assert [one.name for one in changed.earlier_names] == [WORKER]
    event = ChangeEvent.objects.get(subject=f"member {worker.member_id}", deed="change")
    assert (event.before["name"], event.after["name"]) == (1, 2), "no name, for it cannot be erased"


@pytest.mark.parametrize(
    ("name", "code"), [(" ", "name-missing"), ("x" * 121, "text-too-long"), (WORKER, "name-taken")]
)
def test_a_name_that_cannot_be(lead, worker, name, code):
    with refused(code, pointer="/name"):
        member_change(lead, lead.member_id, MemberChange(name=name))


def test_only_who_left_is_erased(lead, worker, erasures):
    with refused("member-active"):
        member_erase(lead, worker.member_id)
    with pytest.raises(Unknown):
        member_erase(WorkshopFactory(slug="other"), worker.member_id)


def test_an_erased_member_is_a_number_everywhere(
    lead, worker, erasures, django_capture_on_commit_callbacks
):
    KeyFactory(actor=worker)
    OriginFactory(actor=worker)
    member_change(lead, worker.member_id, MemberChange(name="Barnaby Reed"))
    let_go(lead, worker)
    with django_capture_on_commit_callbacks(execute=True):
        erased = member_erase(lead, worker.member_id)
    assert erased.erased and erased.name == f"№ {worker.member_id}" and not erased.earlier_names
    kept = everything_kept()
    assert WORKER not in kept and "Barnaby" not in kept and "barnaby" not in kept
    assert not User.objects.filter(username="barnaby").exists()
    assert not DeviceKey.objects.filter(member_id=worker.member_id).exists()
    assert [one.name for one in members(lead, True)] == [lead.name, erased.name]
    assert audit(lead.workshop_id) == []
    assert [one["identity"] for one in read_erasures(erasures)] == [str(worker.reference)]
    with refused("member-erased"):
        member_change(lead, worker.member_id, MemberChange(active=True))
    assert member_erase(lead, worker.member_id) == erased, "twice is once"


def test_an_account_that_belongs_elsewhere_too_stays_there(lead, worker, erasures):
    mill = WorkshopFactory(slug="mill")
    there = MemberFactory(actor=mill, name="Barney", username="barnaby")
    let_go(lead, worker)
    member_erase(lead, worker.member_id)
    user = User.objects.get(username="barnaby")
    assert list(user.memberships.values_list("pk", flat=True)) == [there.member_id]


def test_who_gave_is_a_number_and_the_masses_stay(lead, erasures):
    pk = SourceFactory(actor=lead, name=GIVER, note="rings at the back door", may_be_named=True)
    made = OriginFactory(actor=lead, source=GIVER)
    source_change(lead, pk, SourceChange(name="O. Farraway", note="moved"))
    assert [one.name for one in source_shown(lead, pk).earlier_names] == [GIVER]
    masses = list(Lot.objects.values_list("code", "account__balance_mg"))
    Answer.objects.create(
        workshop_id=lead.workshop_id,
        key="k",
        fingerprint="f",
        status=201,
        body=f'{{"source": "{GIVER}"}}',
        created_at=datetime(2026, 3, 2, tzinfo=UTC),
    )
    erased = source_erase(lead, pk)
    assert (erased.name, erased.note, erased.may_be_named) == (f"№ {pk}", "", False)
    assert erased.erased and erased.retired and not erased.earlier_names
    kept = everything_kept()
    assert "Farraway" not in kept and "back door" not in kept and "moved" not in kept
    assert list(Lot.objects.values_list("code", "account__balance_mg")) == masses
    assert Origin.objects.get(code=made.code).source_id == pk
    assert audit(lead.workshop_id) == []
    with refused("source-erased"):
        source_change(lead, pk, SourceChange(retired=False))


def test_a_list_forgets_who_gave_too(lead, erasures):
    pk = SourceFactory(actor=lead, name=GIVER)
    now = datetime(2026, 3, 2, tzinfo=UTC)
    made = {"workshop_id": lead.workshop_id, "name": "gifts.csv", "brought_at": now}
    held = {"data": GIVER.encode(), "answers": {f"source:{GIVER}": "add", "date": "dmy"}}
    found = {"told": {"givers": [GIVER, "Hill School"]}, "new_sources": [GIVER]}
    taken = ImportFile.objects.create(
        **made, **held, number=1, digest="1", state="taken", found=found
    )
    waiting = ImportFile.objects.create(**made, **held, number=2, digest="2", state="asked")
    other = ImportFile.objects.create(**made, data=b"x", number=3, digest="3", state="taken")
    for number, name in enumerate((GIVER, GIVER.upper(), "Hill School"), 2):
        ImportLine.objects.create(file=taken, number=number, fate="new", said={"source": name})
    for key, choice in (("source:o farraway", GIVER), ("source:hill", "Hill School")):
        ListAnswer.objects.create(
            workshop_id=lead.workshop_id, key=key, choice=choice, answered_at=now
        )
    source_erase(lead, pk)
    taken.refresh_from_db()
    assert bytes(taken.data) == b"" and taken.answers == {"date": "dmy"}
    assert taken.found == {"told": {"givers": ["", "Hill School"]}, "new_sources": [""]}
    lines = taken.lines.order_by("number").values_list("said__source", flat=True)
    assert list(lines) == ["", "", "Hill School"]
    assert [one.choice for one in ListAnswer.objects.all()] == ["Hill School"]
    waiting.refresh_from_db(), other.refresh_from_db()
    assert bytes(waiting.data) and bytes(other.data), "somebody is at work on the one; not theirs"


def test_a_name_without_letters_takes_no_other_along(lead, erasures):
    pk = SourceFactory(actor=lead, name="★")
    file = ImportFile.objects.create(
        workshop_id=lead.workshop_id,
        number=1,
        digest="1",
        state="taken",
        data=b"x",
        found={"told": {"givers": ["Hill School", ""]}},
        brought_at=datetime(2026, 3, 2, tzinfo=UTC),
    )
    source_erase(lead, pk)
    file.refresh_from_db()
    assert file.found == {"told": {"givers": ["Hill School", ""]}} and bytes(file.data)


def test_a_restored_backup_is_erased_again(lead, worker, erasures):
    """What a backup of before brings back goes again, by keys that tell nothing."""
    pk = SourceFactory(actor=lead, name=GIVER)
    let_go(lead, worker)
    member_erase(lead, worker.member_id)
    source_erase(lead, pk)
    write_erasures(erasures)
    assert GIVER not in erasures.read_text() and WORKER not in erasures.read_text()
    Member.objects.filter(pk=worker.member_id).update(name=WORKER, is_erased=False, left_at=None)
    Source.objects.filter(pk=pk).update(name=GIVER, is_erased=False)
    assert erasures_replay(erasures) == 2
    assert WORKER not in everything_kept() and GIVER not in everything_kept()
    assert Member.objects.get(pk=worker.member_id).left_at is not None
    assert erasures_replay(erasures) == 0


def test_a_file_that_is_none_erases_nobody(erasures):
    erasures.write_text('{"name": "somebody"}\n')
    with pytest.raises(ValueError, match="erasures"):
        erasures_replay(erasures)


def test_names_of_before_move_out_of_the_history(lead):
    """What the history of changes said before names could be erased is moved once."""
    pk = SourceFactory(actor=lead, name="Quay club")
    subject = f"source {pk}"
    keep_change(lead, subject, "change", {"name": GIVER, "note": "old"}, {"name": "Quay club"})
    module = importlib.import_module("recycling.migrations.0019_names_and_erasures")
    connection.check_constraints()
    module.move_names(apps, type("Editor", (), {"connection": connection}))
    event = ChangeEvent.objects.get(subject=subject, deed="change")
    assert event.before == {"name": "№ 1", "note": "…"} and event.after == {"name": "№ 2"}
    assert EarlierName.objects.get(subject=subject).name == GIVER
    call_command("check")
