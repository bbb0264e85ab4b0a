"""The first answer to a key is the answer to every repeat, refusals included."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, OperationalError, connection, transaction

from recycling.keeping import deed as deeds
from recycling.keeping.once import once
from recycling.models import Answer, Source
from recycling.records.actors import Actor
from recycling.records.setup.entries import SourceEntry
from recycling.services.setup.register import source_add
from shared.errors import Conflict, Forbidden, Refused, Unavailable
from tests.factories import WorkshopFactory, with_scope
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


class Deed:
    """Adds a source and counts how often it was called."""

    def __init__(self, actor: Actor, name: str = "School"):
        self.actor, self.name, self.calls = actor, name, 0

    def __call__(self) -> tuple[int, str]:
        self.calls += 1
        return 201, f"added {source_add(self.actor, SourceEntry(self.name))}"


def say(refused: Refused) -> tuple[int, str]:
    return refused.status, ",".join(problem.code for problem in refused.problems)


def test_a_repeat_gets_the_first_answer(lead):
    deed = Deed(lead)
    first = once(lead, "k-1", "a", deed, say)
    assert once(lead, "k-1", "a", deed, say) == first
    assert (deed.calls, Source.objects.count(), Answer.objects.count()) == (1, 1, 1)


def test_another_key_is_another_deed(lead):
    once(lead, "k-1", "a", Deed(lead, "one"), say)
    once(lead, "k-2", "a", Deed(lead, "two"), say)
    assert Source.objects.count() == 2


def test_a_refusal_is_kept_and_what_it_wrote_is_not(lead):
    def half() -> tuple[int, str]:
        source_add(lead, SourceEntry("half"))
        raise Refused.because("lot-held", "no")

    assert once(lead, "k-1", "a", half, say) == (422, "lot-held")
    assert not Source.objects.exists()
    deed = Deed(lead)
    assert once(lead, "k-1", "a", deed, say) == (422, "lot-held")  # though it would work now
    assert deed.calls == 0


def test_a_key_with_other_content_is_refused_and_nothing_done(lead):
    once(lead, "k-1", "a", Deed(lead, "one"), say)
    deed = Deed(lead, "two")
    with refused("key-reused"):
        once(lead, "k-1", "b", deed, say)
    assert deed.calls == 0


def test_keys_belong_to_their_workshop(lead):
    other = WorkshopFactory()
    once(lead, "k-1", "a", Deed(lead), say)
    status, body = once(other, "k-1", "b", Deed(other), say)
    assert status == 201 and Source.objects.filter(workshop_id=other.workshop_id).exists()


@pytest.mark.parametrize(
    ("key", "code"),
    [("", "key-missing"), ("x" * 201, "key-unreadable"), ("ä", "key-unreadable"),
     ("a\nb", "key-unreadable"), ("\x00", "key-unreadable")],
)  # fmt: skip
def test_what_is_no_key_is_refused(lead, key, code):
    with refused(code):
        once(lead, key, "a", Deed(lead), say)
    assert not Answer.objects.exists()


def test_the_longest_key_works(lead):
    assert once(lead, "~" * 200, "a", Deed(lead), say)[0] == 201


@pytest.mark.parametrize("error", [Forbidden, Unavailable])
def test_not_allowed_and_away_are_not_kept(lead, error):
    def away() -> tuple[int, str]:
        raise error.because("x", "y")

    with pytest.raises(error):
        once(lead, "k-1", "a", away, say)
    assert not Answer.objects.exists()
    assert once(lead, "k-1", "a", Deed(lead), say)[0] == 201


def test_one_who_may_not_do_it_leaves_the_key_free(lead):
    viewer = with_scope(lead, role="viewer")
    with pytest.raises(Forbidden):
        once(viewer, "k-1", "a", Deed(viewer), say)
    assert once(lead, "k-1", "a", Deed(lead), say)[0] == 201


def test_a_deed_that_breaks_leaves_nothing(lead):
    def breaks() -> tuple[int, str]:
        source_add(lead, SourceEntry("half"))
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        once(lead, "k-1", "a", breaks, say)
    assert not Source.objects.exists() and not Answer.objects.exists()


def test_an_answer_written_meanwhile_is_a_conflict(lead, monkeypatch):
    def taken(**_):
        raise IntegrityError

    monkeypatch.setattr(Answer.objects, "create", taken)
    with pytest.raises(Conflict) as caught:
        once(lead, "k-1", "a", Deed(lead), say)
    assert caught.value.problems[0].code == "key-running"
    monkeypatch.undo()
    assert not Source.objects.exists()


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite lets one writer in")
@pytest.mark.django_db(transaction=True)
def test_a_key_that_is_being_worked_on_is_a_conflict():
    import threading

    lead, inside, done = WorkshopFactory(), threading.Event(), threading.Event()

    def slow() -> tuple[int, str]:
        inside.set()
        done.wait(10)
        return 201, "slow"

    def first() -> None:
        try:
            once(lead, "k-1", "a", slow, say)
        finally:
            connection.close()

    worker = threading.Thread(target=first)
    worker.start()
    inside.wait(10)
    try:
        with pytest.raises(Conflict) as caught:
            once(lead, "k-1", "a", Deed(lead), say)
    finally:
        done.set()
        worker.join()
    assert caught.value.problems[0].code == "key-running"
    assert once(lead, "k-1", "a", Deed(lead), say) == (201, "slow")


# Deeds are tried again, and say so when the book is busy or away


class State(Exception):
    """What a driver says, with its SQLSTATE."""

    def __init__(self, sqlstate: str):
        super().__init__(sqlstate)
        self.sqlstate = sqlstate


def failing(times: int, state: str, error: type[Exception] = OperationalError):
    calls = []

    def attempt() -> str:
        calls.append(1)
        if len(calls) <= times:
            raise error("database is away") from State(state)
        return "done"

    return attempt, calls


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("state", ["40001", "40P01"])
def test_a_lost_race_is_run_again(monkeypatch, state):
    monkeypatch.setattr(deeds.time, "sleep", lambda _: None)
    attempt, calls = failing(4, state)
    assert deeds.retried(attempt) == "done" and len(calls) == 5
    attempt, calls = failing(5, state)
    with pytest.raises(Unavailable) as caught:
        deeds.retried(attempt)
    assert len(calls) == 5
    assert [problem.code for problem in caught.value.problems] == ["book-busy"]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("state", "code"),
    [("55P03", "book-busy"), ("57014", "book-busy"), ("57P01", "book-away"), ("", "book-away")],
)
def test_a_busy_or_lost_database_is_said_and_not_tried_again(state, code):
    attempt, calls = failing(1, state)
    with pytest.raises(Unavailable) as caught:
        deeds.retried(attempt)
    (problem,) = caught.value.problems
    assert (problem.code, len(calls)) == (code, 1)
    assert problem.detail.endswith("Send it again: it counts once.")


@pytest.mark.django_db(transaction=True)
def test_a_locked_file_is_a_busy_book():
    def locked() -> None:
        raise OperationalError("database is locked")

    with pytest.raises(Unavailable) as caught:
        deeds.retried(locked)
    assert caught.value.problems[0].code == "book-busy"


def test_inside_another_transaction_nothing_is_tried_again():
    attempt, calls = failing(1, "40001")
    with pytest.raises(OperationalError), transaction.atomic():
        deeds.retried(attempt)
    assert len(calls) == 1
