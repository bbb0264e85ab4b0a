"""Books, accounts, entries and postings; the database guards them, see ``guards.py``."""

from __future__ import annotations

from django.db import models

LOT, PROCESS, BORDER = "lot", "process", "border"
ENTRIES_PER_BOOK = 2**40


class Book(models.Model):
    """One tenant's ledger. Its row is the lock that every writer of the book takes first."""

    last_sequence = models.BigIntegerField(default=0)
    last_number = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"book {self.pk}"


class Account(models.Model):
    """A place where mass is: a lot, an open run, or a border that mass crosses.

    ``commodity`` says what the mass is made of. ``balance_mg`` and ``last_at`` repeat what the
    postings say, for speed; the audit compares them.
    """

    book = models.ForeignKey(Book, models.PROTECT, related_name="accounts")
    kind = models.CharField(max_length=7, choices=[(k, k) for k in (LOT, PROCESS, BORDER)])
    name = models.CharField(max_length=20, blank=True, default="")
    commodity = models.CharField(max_length=20, blank=True, default="")
    balance_mg = models.BigIntegerField(default=0)
    last_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(kind=LOT) | models.Q(balance_mg__gte=0),
                name="lot_not_below_zero",
            ),
            models.UniqueConstraint(
                fields=["book", "name", "commodity"],
                condition=models.Q(kind=BORDER),
                name="one_border_account",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.name or self.pk}"


class Entry(models.Model):
    """What one event posted: the seal of its postings, which add up to zero."""

    id = models.BigIntegerField(primary_key=True)
    book = models.ForeignKey(Book, models.PROTECT, related_name="entries")
    sequence = models.BigIntegerField()
    process = models.ForeignKey(Account, models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=12)
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    actor = models.UUIDField(null=True)
    reason = models.CharField(max_length=500, blank=True, default="")
    key = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["book", "sequence"], name="one_sequence")]
        indexes = [models.Index(fields=["book", "happened_at"], name="entry_happened")]

    def __str__(self) -> str:
        return f"entry {self.sequence} of book {self.book_id}"


class Posting(models.Model):
    """A signed whole number of milligrams on one account; plus is into the account."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="postings")
    account = models.ForeignKey(Account, models.PROTECT, related_name="postings")
    mass_mg = models.BigIntegerField()
    corrects = models.ForeignKey("self", models.PROTECT, null=True, related_name="corrections")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(mass_mg=0), name="posting_not_zero")
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg on account {self.account_id}"
