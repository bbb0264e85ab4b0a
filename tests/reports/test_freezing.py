"""A frozen report never changes: not by later entries, not by a second run, not by raw SQL."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta

import pytest
from django.db import DatabaseError, OperationalError, connection, transaction
from django.utils import timezone

from recycling import jobs
from recycling.ledger import guards
from recycling.models import FrozenReport, Job, Lot, Report, ReportFile, Source
from recycling.queries.integrity.audit import audit
from recycling.records.lots.changes import OriginChange
from recycling.records.reports.files import FILES
from recycling.records.runs.entries import CorrectionEntry
from recycling.reports.asked import report_file, report_progress, reports_page
from recycling.reports.pages import report_changes, report_shown
from recycling.services.lots.facts import origin_change
from recycling.services.people.erasures import source_erase
from recycling.services.reports import make as making
from recycling.services.reports.ask import report_ask
from recycling.services.reports.make import report_make
from recycling.services.runs.corrections import posting_correct
from recycling.tables.reports.json_file import read_report
from recycling.tasks import sweep_jobs
from shared.errors import Forbidden, Refused, Unknown
from tests.factories import with_scope
from tests.histories import tell
from tests.reports.conftest import entry, made
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


def test_a_report_is_made_with_all_its_files(told):
    code = made(told, title="Winter", people_reached=40, signed_by=("Ada", " "))
    found = report_progress(told.actor, code)
    assert (found.state, found.step, found.done_share, found.failure) == ("ready", "done", 1.0, "")
    assert found.title == "Winter" and found.intact
    assert [one.kind for one in found.files] == list(FILES)
    for one in found.files:
        name, held = report_file(told.actor, code, one.kind)
        assert hashlib.sha256(held).hexdigest() == one.digest
        assert (name, len(held)) == (one.name, one.size_bytes)
        assert name == f"{code}-2024-01-01-2024-03-31.{one.kind}"
    body = report_file(told.actor, code, "json")[1].decode()
    assert hashlib.sha256(body.encode()).hexdigest() == found.digest
    shown = report_shown(told.actor, code)
    assert shown.frozen == read_report(body)
    assert shown.frozen.question.signed_by == ("Ada",)
    assert found.sequence == shown.frozen.document.sequence == 6


def test_numbers_follow_each_other_and_the_newest_is_listed_first(told):
    codes = [made(told) for _ in range(3)]
    listed = reports_page(told.actor, limit=2)
    assert [one.code for one in listed.rows] == codes[:0:-1]
    rest = reports_page(told.actor, listed.next)
    assert [one.code for one in rest.rows] == codes[:1] and rest.next == ""


def test_facts_put_right_since_are_counted_and_leave_it_alone(told):
    code = made(told)
    before = report_file(told.actor, code, "json")[1]
    change = OriginChange(reason="the lists were swapped", note="wet", consent="by word of mouth")
    origin_change(told.actor, told.code("C1"), change)
    found = report_progress(told.actor, code)
    assert (found.facts_since, found.entries_since) == (2, 0)
    assert report_file(told.actor, code, "json")[1] == before
    assert report_progress(told.actor, made(told)).facts_since == 0


def test_an_erased_name_stays_in_what_is_frozen_and_in_nothing_new(told, settings, tmp_path):
    settings.ERASURES_FILE = tmp_path / "erasures.jsonl"
    source = Source.objects.filter(collections__code=told.code("C1")).get()
    Source.objects.filter(pk=source.pk).update(may_be_named=True)
    code = made(told)
    before = report_file(told.actor, code, "json")[1]
    assert source.name.encode() in before
    source_erase(told.actor, source.pk)
    assert report_file(told.actor, code, "json")[1] == before and report_shown(told.actor, code)
    assert source.name.encode() not in report_file(told.actor, made(told), "json")[1]


def test_late_entries_and_corrections_leave_it_alone(told):
    code = made(told)
    before = {kind: report_file(told.actor, code, kind)[1] for kind in FILES}
    told.tell("C3: bottles PET 7kg @60")
    posting_correct(told.actor, CorrectionEntry(told.posting("R2", "R2.2"), 100_000, "misread"))
    assert {kind: report_file(told.actor, code, kind)[1] for kind in FILES} == before
    found = report_progress(told.actor, code)
    assert found.intact and found.entries_since == 2
    later = made(told, supersedes=code)
    changes = report_changes(told.actor, later)
    assert any(one.after != one.before and one.kind == "mass" for one in changes)
    assert report_progress(told.actor, code).superseded_by == later
    assert report_progress(told.actor, later).supersedes == code
    assert report_shown(told.actor, later).frozen.supersedes == code
    assert report_changes(told.actor, code) == ()


TABLES = {
    "recycling_frozenreport": ("body", "digest", "sequence", "number", "frozen_at", "title"),
    "recycling_reportfile": ("held", "digest", "name", "kind", "size_bytes"),
}


@pytest.mark.parametrize(
    "sql",
    [f"UPDATE {table} SET {one} = {one}" for table, columns in TABLES.items() for one in columns]
    + [f"DELETE FROM {table}" for table in TABLES],
)
def test_the_database_lets_nobody_change_what_is_frozen(told, sql):
    made(told)
    before = list(FrozenReport.objects.values()), ReportFile.objects.count()
    with (
        pytest.raises(DatabaseError, match=guards.APPEND_ONLY),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)
    assert (list(FrozenReport.objects.values()), ReportFile.objects.count()) == before


@pytest.mark.parametrize("way", ["save", "delete", "update"])
def test_the_orm_is_refused_too(told, way):
    made(told)
    frozen = FrozenReport.objects.get()
    deeds = {
        "save": frozen.save,
        "delete": ReportFile.objects.first().delete,
        "update": lambda: FrozenReport.objects.update(body="x"),
    }
    with pytest.raises(DatabaseError, match=guards.APPEND_ONLY), transaction.atomic():
        deeds[way]()


def test_the_audit_finds_what_was_changed_behind_its_back(told):
    code = made(told)
    assert audit(told.actor.workshop_id) == []
    with guards.lifted(connection):
        ReportFile.objects.filter(kind="pdf").update(held=b"%PDF-other")
        FrozenReport.objects.update(body=FrozenReport.objects.get().body + " ")
    found = [(one.invariant, one.subject) for one in audit(told.actor.workshop_id)]
    assert found == [(7, f"report {code}"), (7, f"{code}-2024-01-01-2024-03-31.pdf")]
    assert not report_progress(told.actor, code).intact


def test_a_job_that_runs_twice_makes_one_report(told):
    code = made(told)
    job = Job.objects.latest("pk")
    before = list(FrozenReport.objects.values())
    assert not report_make(job.pk)
    Job.objects.update(finished_at=None)
    assert not report_make(job.pk)
    assert not report_make(10**9)
    assert list(FrozenReport.objects.values()) == before
    assert Job.objects.filter(finished_at=None).count() == 0
    assert report_progress(told.actor, code).state == "ready"


def test_a_job_that_another_worker_finished_meanwhile_changes_nothing(told, monkeypatch):
    code = report_ask(told.actor, entry())
    job = Job.objects.latest("pk").pk
    real, waiting = making.files_of, [True]

    def files_of(body):
        if waiting:
            waiting.clear()
            assert report_make(job)
        return real(body)

    monkeypatch.setattr(making, "files_of", files_of)
    assert not report_make(job)
    assert FrozenReport.objects.count() == 1
    assert report_progress(told.actor, code).state == "ready"


def test_a_worker_that_dies_is_followed_by_another(told, monkeypatch):
    """What is not finished is sent again by the sweeper, and nothing half is left behind."""
    code = report_ask(told.actor, entry())
    killed = {"files_of": SystemExit, "_freeze": SystemExit, "document_of": OperationalError}
    for name, death in killed.items():

        def die(*_, death=death):
            raise death("killed")

        with monkeypatch.context() as patch, pytest.raises(death):
            patch.setattr(making, name, die)
            report_make(Job.objects.latest("pk").pk)
        assert not FrozenReport.objects.exists() and not ReportFile.objects.exists()
        assert report_progress(told.actor, code).state == "making"
    Job.objects.update(sent_at=timezone.now() - timedelta(minutes=5))
    assert sweep_jobs() == 1
    assert report_progress(told.actor, code).state == "ready"


def test_what_breaks_is_told_to_whoever_waits(told, monkeypatch):
    code = report_ask(told.actor, entry())
    with monkeypatch.context() as patch:
        patch.setattr(making, "files_of", lambda body: 1 / 0)
        assert report_make(Job.objects.latest("pk").pk)
    found = report_progress(told.actor, code)
    assert found.state == "failed" and "Something broke" in found.failure
    assert Job.objects.filter(finished_at=None).count() == 0
    assert not FrozenReport.objects.exists()
    for read in (
        lambda: report_file(told.actor, code, "pdf"),
        lambda: report_changes(told.actor, code),
    ):
        with pytest.raises(Unknown):
            read()


def test_a_report_whose_lots_are_recomputed_meanwhile_says_so(told):
    code = report_ask(told.actor, entry())
    Lot.objects.filter(code=told.code("R2.1")).update(stale=True)
    report_make(Job.objects.latest("pk").pk)
    found = report_progress(told.actor, code)
    assert found.state == "failed" and "recomputed" in found.failure
    with refused("report-waits"):
        report_ask(told.actor, entry())


def test_what_cannot_be_asked_is_refused_with_its_place(told):
    for changed, code, pointer in (
        ({"to_date": date(2023, 12, 31)}, "period-backwards", "/to_date"),
        ({"from_date": date(2199, 1, 1), "to_date": date(2199, 1, 2)}, "period-in-future", None),
        ({"programme": "nowhere"}, "programme-unknown", "/programme"),
        ({"source": "nobody"}, "source-unknown", "/source"),
        ({"counts_as": "wishes"}, "counter-unknown", "/counts_as"),
        ({"people_reached": -1}, "number-out-of-bounds", "/people_reached"),
        ({"title": "x" * 121}, "text-too-long", "/title"),
        ({"signed_by": ("x",) * 9}, "too-many-lines", "/signed_by"),
        ({"supersedes": "D9-9"}, "report-unknown", "/supersedes"),
    ):
        with refused(code, pointer=pointer):
            report_ask(told.actor, entry(**changed))
    assert not Report.objects.exists() and not Job.objects.exists()


def test_only_the_last_of_a_line_is_superseded(told):
    first = made(told)
    making_it = report_ask(told.actor, entry(supersedes=first))
    for target, code in ((first, "report-superseded"), (making_it, "report-not-frozen")):
        with refused(code, pointer="/supersedes"):
            report_ask(told.actor, entry(supersedes=target))
    Report.objects.filter(code=making_it).update(state="failed")
    assert report_progress(told.actor, made(told, supersedes=first)).supersedes == first


def test_who_may_ask_and_who_may_read(told):
    for role, scope in (("viewer", "manage"), ("operator", "read")):
        with pytest.raises(Forbidden):
            report_ask(with_scope(told.actor, scope, role), entry())
    code = report_ask(with_scope(told.actor, "record", "operator"), entry())
    assert report_progress(with_scope(told.actor, "read", "viewer"), code).state == "making"


def test_workshops_do_not_meet(told):
    code, strange = made(told), tell("C1: bottles PET 1kg").actor
    assert reports_page(strange).rows == ()
    for read in (report_progress, report_shown, report_changes):
        with pytest.raises(Unknown):
            read(strange, code)
    with pytest.raises(Unknown):
        report_file(strange, code, "pdf")
    with pytest.raises(Refused):
        report_ask(strange, entry(supersedes=code))


def test_the_job_is_started_with_the_entry_and_not_without(told, monkeypatch):
    sent = []
    monkeypatch.setattr(jobs, "send", lambda *job: sent.append(job))
    with pytest.raises(RuntimeError), transaction.atomic():
        report_ask(told.actor, entry())
        raise RuntimeError
    assert not Job.objects.exists() and not Report.objects.exists() and sent == []


def test_a_program_may_name_a_source_by_its_id_and_its_name_is_frozen(told):
    source = Source.objects.filter(workshop_id=told.actor.workshop_id).first()
    code = report_ask(told.actor, entry(source=str(source.pk)))
    assert Report.objects.get(code=code).question["source"] == source.name
