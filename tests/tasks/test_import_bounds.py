"""What a file may cost: read outside transactions, bounded, in parts, three times at most."""

from __future__ import annotations

import json
from base64 import b64encode

import pytest
from django.db import OperationalError, connection

from recycling.keeping import background
from recycling.models import ImportFile, Job, Lot, Source
from recycling.queries.integrity.audit import audit
from recycling.queries.lists import import_shown
from recycling.services import lists as brought
from recycling.services.lists import TAKE, import_bring, import_drop, import_take
from recycling.tables.lists.asking import Asking
from recycling.tables.lists.entries_file import read_entries
from recycling.tables.lists.known import Known
from recycling.tables.lists.reading import sheets_of_text
from recycling.tasks import import_look, import_write
from recycling.tasks.lists import entries, parts, rows
from shared.errors import Conflict, Refused
from tests.factories import KeyFactory, SourceFactory

pytestmark = pytest.mark.django_db(transaction=True)
HEAD = "at,source,polymer,mass\n"
ROWS = [f"2024-05-0{day}T09:30Z,Corner shop,PET,{day} kg\n" for day in range(1, 6)]
FIVE = HEAD + "".join(ROWS)


@pytest.fixture
def actor(lead, monkeypatch):
    monkeypatch.setattr("recycling.jobs.send", lambda *job: None)
    monkeypatch.setattr(parts, "PAUSE_SECONDS", 0)
    SourceFactory(actor=lead, name="Corner shop")
    return lead


def work() -> Job:
    job = Job.objects.filter(finished_at=None).latest("pk")
    (import_write if job.task == TAKE else import_look)(job.pk)
    job.refresh_from_db()
    return job


def looked(actor, text: str):
    number = import_bring(actor, "list", text.encode())
    work()
    return import_shown(actor, number)


def lots() -> int:
    return Lot.objects.count()


HEADS = {
    "one column many times": ("at," * 40_000, "too-many-columns"),
    "many columns without names": ("," * 100_000, "heads-missing"),
    "a name that is a book": (f"a{'x' * 100_000}", "heads-missing"),
    "a cell beyond every bound": (f'at,polymer,mass,"{"x" * 200_000}"', "row-unreadable"),
}


@pytest.mark.parametrize("name", HEADS)
def test_a_head_that_no_list_has_is_refused_in_few_words(actor, name):
    head, code = HEADS[name]
    shown = looked(actor, f"{head}\n1,2\n")
    assert (shown.state, [one.code for one in shown.problems]) == ("failed", [code])
    assert len(json.dumps(ImportFile.objects.get().found)) < 1_000


def test_a_row_of_many_cells_is_named_by_its_line(actor):
    shown = looked(actor, FIVE + "x," * 100_000 + "\n")
    assert {one.row for one in shown.problems} == {7} and shown.state == "failed"


def test_a_list_has_so_many_rows_and_no_more(actor, monkeypatch):
    monkeypatch.setattr("recycling.tables.lists.parting.MOST_ROWS", 3)
    long = FIVE + "".join(ROWS) * 12
    shown = looked(actor, long)
    assert [(one.code, one.row) for one in shown.problems] == [("too-many-rows", 54)]


JSONS = {
    "a name twice among many": "{" + "".join(f'"{n}":1,' for n in range(20_000)) + '"7":1}',
    "nested": "[" * 100_000,
    "nested objects": '{"a":' * 100_000,
    "a number without end": '{"entries": [{"mass_mg": ' + "9" * 10_000 + "}]}",
    "a number beyond numbers": '{"entries": [{"mass_mg": 1e400}]}',
}


@pytest.mark.parametrize("name", JSONS)
def test_entries_that_nobody_writes_are_refused(actor, name):
    with pytest.raises(Refused):
        read_entries(JSONS[name])
    shown = looked(actor, "{" * (JSONS[name][0] == "[") + JSONS[name])
    codes = {one.code for one in shown.problems}
    assert shown.state == "failed" and codes <= {"json-unreadable", "field-twice"}, codes


def test_reading_may_be_stopped():
    def tick() -> None:
        raise Refused.because("import-too-long", "Enough.")

    entry = {"entry": "purchase", "lot": "a", "at": "2026-05-04T09:30:00Z", "form": "pellets"}
    for read in (
        lambda: sheets_of_text(FIVE.encode(), Known("UTC"), Asking(), tick),
        lambda: read_entries(json.dumps({"entries": [entry]}), tick),
    ):
        with pytest.raises(Refused, match="Enough"):
            read()


def test_a_file_is_read_outside_any_transaction(actor, client, monkeypatch):
    inside = []

    def watched(function):
        def call(*given):
            inside.append(connection.in_atomic_block)
            return function(*given)

        return call

    monkeypatch.setattr(rows, "read_sheets", watched(rows.read_sheets))
    sheets = sheets_of_text(FIVE.encode(), Known("UTC"), Asking(), lambda: None)
    monkeypatch.setattr(rows, "spreadsheet_sheets", watched(lambda *_: sheets))
    monkeypatch.setattr(brought, "check_unpacked_or_refuse", watched(lambda *_: None))
    said = {"spreadsheet": b64encode(rows.STARTS).decode()}
    key = KeyFactory(actor=actor).secret
    answer = client.post(
        "/api/v1/imports/",
        said,
        "application/json",
        headers={"Authorization": f"Bearer {key}", "Idempotency-Key": "one"},
    )
    assert answer.status_code == 202, answer.content
    work()
    import_take(actor, 1)
    work()
    assert inside[0] is False and inside[-2:] == [False] * 2 and lots() == 5


def test_a_long_list_is_taken_in_parts_and_goes_on_where_its_worker_died(actor, monkeypatch):
    monkeypatch.setattr(parts, "PART_SECONDS", -1)
    shown = looked(actor, FIVE)
    assert (shown.state, lots(), len(shown.lots)) == ("looked", 0, 5)
    import_take(actor, 1)
    record, left = rows.origin_record, [3]

    def dies(actor, one):
        left[0] -= 1
        if left[0] < 0:
            raise OperationalError("the worker is gone")
        return record(actor, one)

    monkeypatch.setattr(rows, "origin_record", dies)
    with pytest.raises(OperationalError):
        work()
    assert lots() == 3 and import_shown(actor, 1).state == "taking"
    monkeypatch.setattr(rows, "origin_record", record)
    work()
    shown = import_shown(actor, 1)
    assert (shown.state, lots()) == ("taken", 5)
    masses = [Lot.objects.get(code=lot.code).made_mg for lot in shown.lots]
    assert masses == [day * 1_000_000 for day in range(1, 6)]
    assert audit(actor.workshop_id) == []


def test_a_list_that_stops_half_way_says_so_and_goes_on_when_it_comes_again(actor, monkeypatch):
    monkeypatch.setattr(parts, "PART_SECONDS", -1)
    looked(actor, FIVE)
    import_take(actor, 1)
    record = rows.origin_record

    def renamed(actor, one):
        if lots() == 2:
            Source.objects.filter(name="Corner shop").update(name="Closed")
        return record(actor, one)

    monkeypatch.setattr(rows, "origin_record", renamed)
    work()
    monkeypatch.setattr(rows, "origin_record", record)
    shown = import_shown(actor, 1)
    assert shown.state == "failed" and lots() == 2 == len(shown.lots)
    assert [one.code for one in shown.problems] == ["import-in-part", "source-unknown"]
    assert "2 of 5" in shown.problems[0].detail
    with pytest.raises(Conflict):
        import_drop(actor, 1)
    Source.objects.filter(name="Closed").update(name="Corner shop")
    assert looked(actor, FIVE).state == "looked" and lots() == 2
    import_take(actor, 1)
    work()
    assert import_shown(actor, 1).state == "taken" and lots() == 5
    assert audit(actor.workshop_id) == []


def test_entries_that_need_each_other_are_looked_through_at_once_or_split(actor, monkeypatch):
    bag = {"entry": "collection", "at": "2024-05-04T09:30:00Z", "source": "Corner shop"}
    bag |= {"form": "bottles", "polymer": "PET", "mass_mg": 5_000_000}
    text = json.dumps({"entries": [bag | {"lot": name} for name in "abc"]})
    assert looked(actor, text).state == "looked"
    monkeypatch.setattr(entries, "LOOK_SECONDS", -1)
    shown = looked(actor, text)
    assert [(one.row, one.code) for one in shown.problems] == [(2, "import-too-long")]


def test_after_three_tries_it_is_given_up_and_said_why(actor):
    import_bring(actor, "list", FIVE.encode())
    Job.objects.update(tries=background.MOST_TRIES)  # three workers died amid it
    job = work()
    assert job.finished_at and job.failure == background.GAVE_UP
    shown = import_shown(actor, 1)
    assert (shown.state, [one.code for one in shown.problems]) == ("failed", ["job-gave-up"])
    assert lots() == 0


def test_a_try_that_the_database_stopped_counts_not(actor, monkeypatch):
    import_bring(actor, "list", FIVE.encode())
    with monkeypatch.context() as away:
        away.setattr(
            rows, "read_sheets", lambda *_: (_ for _ in ()).throw(OperationalError("away"))
        )
        for _ in range(5):
            with pytest.raises(OperationalError):
                work()
    assert Job.objects.get().tries == 0
    assert work().tries == 1 and import_shown(actor, 1).state == "looked"


def test_a_job_that_somebody_is_at_is_left_to_them(actor):
    import_bring(actor, "list", FIVE.encode())
    job = Job.objects.get()
    seen = []

    @background.worked
    def other(job_id: int) -> None:
        seen.append(Job.objects.get(pk=job_id).tries)
        if connection.vendor == "sqlite":  # a session's own lock may be had twice on PostgreSQL
            other(job_id)

    other(job.pk)
    assert seen == [1] and work().finished_at
