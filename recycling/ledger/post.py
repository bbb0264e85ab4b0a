"""The only writer of mass: takes the book's lock, refuses a lot below zero, seals the entry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass
from datetime import datetime
from uuid import UUID

from django.db import connection

from recycling.ledger.history import lowest_after
from recycling.ledger.models import BORDER, ENTRIES_PER_BOOK, LOT, Book
from recycling.ledger.sql import insert, marks, moment, rows


class Overdrawn(Exception):
    """A lot would have gone below zero; nothing was posted.

    Attributes
    ----------
    account_id : int
        The lot's account.
    short_mg : int
        By how much, in mg.
    when : datetime
        At which moment of its history.
    pointer : str
        Where what was given names it, when whoever posted knows; empty otherwise.
    drawn_by : tuple of str
        Codes of what took from the lot since, when whoever posted knows; empty otherwise.
    """

    pointer = ""
    drawn_by: tuple[str, ...] = ()

    def __init__(self, account_id: int, short_mg: int, when: datetime):
        super().__init__(f"account {account_id} would be {short_mg} mg below zero at {when}")
        self.account_id, self.short_mg, self.when = account_id, short_mg, when


class Unbalanced(Exception):
    """The postings of one entry do not add up to zero; nothing was posted."""


@dataclass(frozen=True)
class Change:
    """A posting to be made: mass in mg, plus is into the account."""

    account_id: int
    mass_mg: int
    corrects_id: int | None = None


@dataclass(frozen=True)
class Sheet:
    """What an entry says besides its postings."""

    book_id: int
    process_id: int
    kind: str
    happened_at: datetime
    written_at: datetime
    actor: UUID | None = None
    reason: str = ""
    key: str = ""


_OPEN_ALREADY = (
    f"ON CONFLICT (book_id, name, commodity) WHERE kind = '{BORDER}'"
    " DO UPDATE SET name = excluded.name"
)
"""A border account that is there is found by the statement that would open it."""
_ACCOUNTS = (
    "SELECT id, kind, balance_mg, last_at FROM ledger_account"
    " WHERE book_id = %s AND id IN ({}) ORDER BY id"
)
_ENTRY = (
    "id",
    "sequence",
    "book_id",
    "process_id",
    "kind",
    "happened_at",
    "written_at",
    "actor",
    "reason",
    "key",
)


def open_book() -> Book:
    """Start an empty book."""
    return Book.objects.create()


def lock_book(book_id: int) -> None:
    """Wait for the other writers of this book; the lock goes with the transaction.

    SQLite has one writer anyway, from the beginning of its transaction.
    """
    if connection.vendor == "sqlite":
        return
    Book.objects.select_for_update().values_list("pk").get(pk=book_id)


def take_numbers(book_id: int, count: int) -> list[int]:
    """Give out the next numbers of a book, each once; takes the book's lock."""
    last = _advance(book_id, "last_number", count)
    return list(range(last - count + 1, last + 1))


def _advance(book_id: int, counter: str, count: int) -> int:
    advanced = (
        f"UPDATE ledger_book SET {counter} = {counter} + %s WHERE id = %s RETURNING {counter}"
    )
    return rows(advanced, [count, book_id])[0][0]


def open_accounts(
    book_id: int, kinds: Sequence[tuple[str, str]], border: Sequence[tuple[str, str]] = ()
) -> list[int]:
    """Open accounts of (kind, commodity), and return their ids in the same order.

    After them come those of the border, each of another (name, commodity), which are opened on
    first use; these need the lock.
    """
    return insert(
        "ledger_account",
        ("id", "book_id", "kind", "name", "commodity", "balance_mg"),
        [
            *((book_id, kind, "", commodity, 0) for kind, commodity in kinds),
            *((book_id, BORDER, name, commodity, 0) for name, commodity in border),
        ],
        _OPEN_ALREADY if border else "",
    )


def border_account(book_id: int, name: str, commodity: str) -> int:
    """Return the border account of a name and commodity, opened on first use; needs the lock."""
    return open_accounts(book_id, (), [(name, commodity)])[0]


def post(sheet: Sheet, changes: Sequence[Change]) -> tuple[int, list[int]]:
    """Write one entry and return its id with the ids of its postings, in order.

    Changes of zero are left out. Takes the book's lock, then the accounts in order of id.

    Raises
    ------
    Unbalanced
        When the changes do not add up to zero.
    Overdrawn
        When a lot would be below zero at any moment of its history.
    """
    return post_together([(sheet, changes)])[0]


def post_together(sheets: Sequence[tuple[Sheet, Sequence[Change]]]) -> list[tuple[int, list[int]]]:
    """Write the entries of one deed, and return the id of each with those of its postings.

    No lot may be below zero at any moment of its history with all of the entries in it; between
    two of them, by their sequence alone, it may. All are of one book.

    Raises
    ------
    Unbalanced
        When the changes of an entry do not add up to zero.
    Overdrawn
        When a lot would be below zero at any moment of its history.
    """
    written = [(sheet, [one for one in changes if one.mass_mg]) for sheet, changes in sheets]
    for sheet, changes in written:
        left_mg = sum(change.mass_mg for change in changes)
        if not changes or left_mg:
            raise Unbalanced(f"{left_mg} mg left over in {sheet.kind}")
    book_id, count = written[0][0].book_id, len(written)
    last = _advance(book_id, "last_sequence", count)
    _move(book_id, written)
    ids = [book_id * ENTRIES_PER_BOOK + last - count + place for place in range(1, count + 1)]
    postings = iter(
        insert(
            "ledger_posting",
            ("id", "entry_id", "account_id", "mass_mg", "corrects_id"),
            [
                (entry_id, one.account_id, one.mass_mg, one.corrects_id)
                for entry_id, (_, changes) in zip(ids, written, strict=True)
                for one in changes
            ],
        )
    )
    entries = zip(ids, range(last - count + 1, last + 1), written, strict=True)
    lines = [(entry_id, sequence, *astuple(sheet)) for entry_id, sequence, (sheet, _) in entries]
    insert("ledger_entry", _ENTRY, lines)
    return [
        (entry_id, [next(postings) for _ in changes])
        for entry_id, (_, changes) in zip(ids, written, strict=True)
    ]


def _move(book_id: int, written: Sequence[tuple[Sheet, Sequence[Change]]]) -> None:
    moved: dict[int, list[tuple[datetime, int]]] = {}
    for sheet, changes in written:
        for change in changes:
            moved.setdefault(change.account_id, []).append((sheet.happened_at, change.mass_mg))
    lock = " FOR NO KEY UPDATE" if connection.vendor == "postgresql" else ""
    accounts = rows(_ACCOUNTS.format(marks(list(moved))) + lock, [book_id, *moved])
    if len(accounts) != len(moved):
        raise Unbalanced("a posting names an account of another book")
    stored: list[tuple[int, int, datetime]] = []
    for account_id, kind, balance_mg, last in accounts:
        last_at, of_lot = moment(last) if last else None, moved[account_id]
        if kind == LOT and any(mass_mg < 0 for _, mass_mg in of_lot):
            _refuse_below_zero(account_id, balance_mg, last_at, of_lot)
        latest = max(at for at in (last_at, *(at for at, _ in of_lot)) if at is not None)
        moved_mg = sum(mass_mg for _, mass_mg in of_lot)
        stored.append((account_id, balance_mg + moved_mg, latest))
    _store(stored)


def _refuse_below_zero(
    account_id: int,
    balance_mg: int,
    last_at: datetime | None,
    changes: Sequence[tuple[datetime, int]],
) -> None:
    moments = {at for at, _ in changes}
    if len(moments) == 1 and (last_at is None or max(moments) >= last_at):
        left_mg = balance_mg + sum(mass_mg for _, mass_mg in changes)
        if left_mg < 0:
            raise Overdrawn(account_id, -left_mg, max(moments))
        return
    lowest, when = lowest_after(account_id, changes)
    if when is not None:
        raise Overdrawn(account_id, -lowest, when)


def _store(stored: Sequence[tuple[int, int, datetime]]) -> None:
    line = ", ".join(["(%s, %s, %s)"] * len(stored))
    kind = "timestamptz" if connection.vendor == "postgresql" else "text"
    with connection.cursor() as cursor:
        cursor.execute(
            f"WITH moved(id, balance, at) AS (VALUES {line}) UPDATE ledger_account"
            f" SET balance_mg = moved.balance, last_at = CAST(moved.at AS {kind})"
            " FROM moved WHERE ledger_account.id = moved.id",
            [
                value
                for account_id, balance_mg, at in stored
                for value in (
                    account_id,
                    balance_mg,
                    connection.ops.adapt_datetimefield_value(at),
                )
            ],
        )
