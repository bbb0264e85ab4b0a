"""A book with a lot, a run and a border, below everything that knows of bottles."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest
from django.db import transaction

from recycling.ledger.models import BORDER, LOT, PROCESS, Account, Book
from recycling.ledger.post import Change, Sheet, border_account, open_accounts, open_book, post
from tests.factories import START


@dataclass(frozen=True)
class Desk:
    """Accounts of one book, and a short way to post between them."""

    book_id: int
    lot: int
    other: int
    process: int
    border: int

    def at(self, hours: float) -> datetime:
        return START + timedelta(hours=hours)

    def sheet(self, hours: float = 0, kind: str = "run", **more: object) -> Sheet:
        happened_at = self.at(hours)
        return Sheet(self.book_id, self.process, kind, happened_at, happened_at, **more)

    def move(self, hours: float, **masses: int) -> int:
        """Post masses in mg on the named accounts; the border takes the rest."""
        changes = [Change(getattr(self, name), mass) for name, mass in masses.items()]
        changes.append(Change(self.border, -sum(masses.values())))
        with transaction.atomic():
            return post(self.sheet(hours), changes)[0]

    def balance(self, name: str) -> int:
        return Account.objects.get(pk=getattr(self, name)).balance_mg


def new_desk() -> Desk:
    book = open_book()
    lot, other, process = open_accounts(book.pk, [(LOT, "PET"), (LOT, "PET"), (PROCESS, "PET")])
    return Desk(book.pk, lot, other, process, border_account(book.pk, "received", "PET"))


@pytest.fixture
def desk(db) -> Desk:
    assert not Book.objects.exists()
    assert {LOT, PROCESS, BORDER} == {"lot", "process", "border"}
    return new_desk()
