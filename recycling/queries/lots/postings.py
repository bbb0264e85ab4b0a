"""Postings with who, when and why, so that anyone can check the book."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from recycling.ledger.models import LOT, PROCESS, Posting
from recycling.queries.paging import checked_limit, within
from recycling.queries.people.names import name_behind, named
from recycling.records.actors import Actor
from recycling.records.lots.lots import PostingRow
from recycling.records.paging import Page

COLUMNS = (
    "pk",
    "entry__sequence",
    "entry__kind",
    "entry__process__run__code",
    "entry__process__run__stage",
    "account__kind",
    "account__name",
    "account__lot__code",
    "account__commodity",
    "mass_mg",
    "entry__happened_at",
    "entry__written_at",
    "entry__actor",
    "entry__reason",
    "entry__key",
    "corrects_id",
    "by",
)

BY = name_behind("entry__actor")


def posting_row(row: Sequence[Any]) -> PostingRow:
    """Show a posting from its columns, in the order of ``COLUMNS``."""
    kind, name = row[5], row[6]
    return PostingRow(
        posting=row[0],
        sequence=row[1],
        kind=row[2],
        run=row[3] or "",
        stage=row[4] or "",
        account=kind if kind in (LOT, PROCESS) else name,
        lot=row[7] or "",
        polymer=row[8],
        mass_mg=row[9],
        happened_at=row[10],
        written_at=row[11],
        by=named(row[16], row[12]),
        reason=row[13],
        key=row[14],
        corrects=row[15],
    )


def postings_of(workshop_id: int, **where: int) -> tuple[PostingRow, ...]:
    """Show the postings of one account or one run, in the order they were written."""
    rows = Posting.objects.filter(entry__book_id=workshop_id, **where).order_by("pk")
    return tuple(posting_row(row) for row in rows.annotate(by=BY).values_list(*COLUMNS))


def postings_after(
    actor: Actor,
    after: int = 0,
    limit: int = 200,
    start: datetime | None = None,
    end: datetime | None = None,
) -> Page[PostingRow]:
    """List postings in the order of the book, from after a posting's id; those of a time."""
    limit = checked_limit(limit)
    rows = (
        Posting.objects.filter(account__book_id=actor.workshop_id, pk__gt=after)
        .filter(within("entry__happened_at", start, end))
        .order_by("pk")
        .annotate(by=BY)
        .values_list(*COLUMNS)[: limit + 1]
    )
    shown = tuple(posting_row(row) for row in rows)
    more = str(shown[limit - 1].posting) if len(shown) > limit else ""
    return Page(shown[:limit], more)
