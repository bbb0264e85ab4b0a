"""The database keeps the promise by itself: raw SQL is refused on both engines."""

from __future__ import annotations

import threading

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from recycling.ledger import guards
from recycling.ledger.models import ENTRIES_PER_BOOK, Account, Entry, Posting
from tests.ledger.conftest import Desk, new_desk

pytestmark = pytest.mark.django_db
POSTGRES = "only PostgreSQL has this"


def run(sql: str, *values: object) -> None:
    """Run raw SQL in a savepoint of its own."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def post_raw(entry_id: int, account_id: int, mass_mg: int) -> None:
    run(
        "INSERT INTO ledger_posting (entry_id, account_id, mass_mg) VALUES (%s, %s, %s)",
        entry_id,
        account_id,
        mass_mg,
    )


def seal_raw(desk: Desk, sequence: int = 99) -> None:
    adapt = connection.ops.adapt_datetimefield_value
    run(
        "INSERT INTO ledger_entry (id, book_id, sequence, process_id, kind, happened_at,"
        " written_at, reason, key) VALUES (%s, %s, %s, %s, 'run', %s, %s, '', '')",
        desk.book_id * ENTRIES_PER_BOOK + sequence,
        desk.book_id,
        sequence,
        desk.process,
        adapt(desk.at(0)),
        adapt(desk.at(0)),
    )


@pytest.fixture
def entry_id(desk: Desk) -> int:
    return desk.move(0, lot=100)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE ledger_posting SET mass_mg = mass_mg + 1",
        "UPDATE ledger_posting SET mass_mg = mass_mg",
        "UPDATE ledger_entry SET reason = 'never mind'",
        "UPDATE ledger_entry SET happened_at = written_at",
        "DELETE FROM ledger_posting",
        "DELETE FROM ledger_entry",
    ],
)
def test_what_was_posted_is_never_changed(desk: Desk, entry_id, sql):
    before = list(Posting.objects.order_by("pk").values()), list(Entry.objects.values())
    with pytest.raises(DatabaseError, match=guards.APPEND_ONLY):
        run(sql)
    assert (list(Posting.objects.order_by("pk").values()), list(Entry.objects.values())) == before


@pytest.mark.parametrize("way", ["save", "delete", "update", "bulk"])
def test_the_orm_is_refused_too(entry_id, way):
    posting = Posting.objects.order_by("pk").first()
    deeds = {
        "save": lambda: posting.save(),
        "delete": lambda: posting.delete(),
        "update": lambda: Posting.objects.update(mass_mg=1),
        "bulk": lambda: Posting.objects.bulk_update([posting], ["mass_mg"]),
    }
    with pytest.raises(DatabaseError, match=guards.APPEND_ONLY), transaction.atomic():
        deeds[way]()


def test_a_sealed_entry_takes_no_more_postings(desk: Desk, entry_id):
    for mass_mg in (5, -5):
        with pytest.raises(DatabaseError, match=guards.SEALED):
            post_raw(entry_id, desk.other, mass_mg)
    assert Posting.objects.count() == 2


@pytest.mark.parametrize("masses", [(), (5,), (5, -4), (5, -5, 1)], ids=str)
def test_an_unbalanced_entry_is_not_sealed(desk: Desk, masses):
    unsealed = desk.book_id * ENTRIES_PER_BOOK + 99
    with pytest.raises(DatabaseError, match=guards.UNBALANCED), transaction.atomic():
        for mass_mg, account in zip(masses, (desk.lot, desk.border, desk.other), strict=False):
            post_raw(unsealed, account, mass_mg)
        seal_raw(desk)
    assert not Posting.objects.exists() and not Entry.objects.exists()


def test_a_balanced_entry_is_sealed(desk: Desk):
    """The counter-test: what the refusals above lack is only the balance."""
    for mass_mg, account in ((5, desk.lot), (-5, desk.border)):
        post_raw(desk.book_id * ENTRIES_PER_BOOK + 99, account, mass_mg)
    seal_raw(desk)
    connection.check_constraints()
    assert Entry.objects.get().sequence == 99


def test_another_books_account_is_refused(desk: Desk):
    strange = new_desk()
    unsealed = desk.book_id * ENTRIES_PER_BOOK + 99
    with pytest.raises(DatabaseError, match=guards.STRANGERS), transaction.atomic():
        post_raw(unsealed, strange.lot, 5)
        post_raw(unsealed, desk.border, -5)
        seal_raw(desk)


def test_a_posting_of_zero_is_refused(desk: Desk):
    with pytest.raises(IntegrityError):
        post_raw(desk.book_id * ENTRIES_PER_BOOK + 99, desk.lot, 0)


def test_a_sequence_is_used_once(desk: Desk, entry_id):
    with pytest.raises(IntegrityError), transaction.atomic():
        for mass_mg, account in ((5, desk.lot), (-5, desk.border)):
            post_raw(desk.book_id * ENTRIES_PER_BOOK + 98, account, mass_mg)
        entry = Entry.objects.get()
        entry.pk = desk.book_id * ENTRIES_PER_BOOK + 98
        entry.save(force_insert=True)


def test_a_lot_below_zero_is_refused_but_a_run_is_not(desk: Desk):
    with pytest.raises(IntegrityError, match="lot_not_below_zero"):
        run("UPDATE ledger_account SET balance_mg = -1 WHERE id = %s", desk.lot)
    run("UPDATE ledger_account SET balance_mg = -1 WHERE id = %s", desk.process)
    assert Account.objects.get(pk=desk.process).balance_mg == -1


def test_a_border_exists_once(desk: Desk):
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.create(
            book_id=desk.book_id, kind="border", name="received", commodity="PET"
        )


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason=POSTGRES)
@pytest.mark.parametrize("table", ["ledger_posting", "ledger_entry"])
def test_truncate_is_refused(desk: Desk, entry_id, table):
    connection.check_constraints()
    with pytest.raises(DatabaseError, match=guards.APPEND_ONLY):
        run(f"TRUNCATE {table} CASCADE")
    assert Posting.objects.count() == 2


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason=POSTGRES)
@pytest.mark.django_db(transaction=True)
def test_commit_checks_again():
    """Postings that slip in behind the seal, the row triggers being off, do not commit."""
    desk = new_desk()
    with pytest.raises(DatabaseError, match=guards.UNBALANCED), transaction.atomic():
        entry_id = desk.move(0, lot=100)
        run("SET LOCAL session_replication_role = replica")
        post_raw(entry_id, desk.other, 5)
        run("SET LOCAL session_replication_role = origin")
    assert not Entry.objects.exists() and not Posting.objects.exists()


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason=POSTGRES)
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("slipped", [(5, -5), (5,)])
def test_a_posting_of_another_transaction_does_not_slip_past_the_seal(slipped):
    """The seal is not seen by who posts while it is being set; the commit of the posting is it.

    first:   begin, post an entry and seal it .............. commit
    second:           begin, post to that entry ...................... commit, refused
    """
    desk, failed = new_desk(), []
    posted, may_commit = threading.Event(), threading.Event()

    def second() -> None:
        try:
            with transaction.atomic():
                for mass_mg in slipped:
                    post_raw(entry_id, desk.other if mass_mg > 0 else desk.border, mass_mg)
                posted.set()
                may_commit.wait(10)
        except DatabaseError as error:
            failed.append(str(error))
        finally:
            posted.set()
            connection.close()

    with transaction.atomic():
        entry_id = desk.move(0, lot=100)
        writer = threading.Thread(target=second)
        writer.start()
        assert posted.wait(10)
    may_commit.set()
    writer.join(15)
    assert len(failed) == 1 and guards.SEALED in failed[0], failed
    assert Posting.objects.filter(entry_id=entry_id).count() == 2


@pytest.mark.django_db(transaction=True)
def test_an_entry_posted_and_sealed_in_savepoints_commits():
    desk = new_desk()
    unsealed = desk.book_id * ENTRIES_PER_BOOK + 99
    with transaction.atomic():
        post_raw(unsealed, desk.lot, 5)
        post_raw(unsealed, desk.border, -5)
        seal_raw(desk)
    assert Posting.objects.filter(entry_id=unsealed).count() == 2


@pytest.mark.django_db(transaction=True)
def test_postings_without_their_seal_do_not_commit():
    desk = new_desk()
    with pytest.raises(IntegrityError), transaction.atomic():
        post_raw(desk.book_id * ENTRIES_PER_BOOK + 99, desk.lot, 5)
        post_raw(desk.book_id * ENTRIES_PER_BOOK + 99, desk.border, -5)
    assert not Posting.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_emptying_a_test_database_leaves_the_guards_standing():
    from django.core.management import call_command

    desk = new_desk()
    desk.move(0, lot=100)
    call_command("flush", interactive=False, verbosity=0)
    assert not Posting.objects.exists()
    assert guards.missing(connection) == set()
    desk = new_desk()
    desk.move(0, lot=100)
    with pytest.raises(DatabaseError, match=guards.APPEND_ONLY):
        run("DELETE FROM ledger_posting")


def test_missing_guards_are_named_and_set_up_again(desk: Desk, entry_id):
    assert guards.missing(connection) == set()
    with pytest.raises(ZeroDivisionError), guards.lifted(connection):
        assert guards.missing(connection) == guards.names(connection.vendor)
        1 / 0
    assert guards.missing(connection) == set()
    guards.install(connection)  # a second time changes nothing
    assert guards.missing(connection) == set()


@pytest.mark.django_db(transaction=True)
def test_another_connection_waits_for_the_books_lock():
    """Two writers of one book cannot be inside at once; the second sees what the first posted."""
    desk, seen, inside = new_desk(), [], threading.Event()
    desk.move(0, lot=100)

    def second() -> None:
        inside.wait(10)
        try:
            with transaction.atomic():
                seen.append(desk.move(2, lot=-60))
        except Exception as error:
            seen.append(error)
        finally:
            connection.close()

    writer = threading.Thread(target=second)
    writer.start()
    with transaction.atomic():
        desk.move(1, lot=-60)
        inside.set()
        writer.join(0.3)
        assert writer.is_alive(), "the second writer did not wait"
    writer.join(15)
    assert [type(one).__name__ for one in seen] == ["Overdrawn"]
    assert desk.balance("lot") == 40
