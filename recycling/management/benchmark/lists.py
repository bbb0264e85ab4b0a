"""Lists and statements: a deep page against the first, a statement against one aggregate."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import connection
from django.utils import timezone

from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.management.benchmark.traces import fetched
from recycling.models import Lot
from recycling.queries.balance.balance import balance_now, statement
from recycling.queries.lots.lots import lots_page
from recycling.queries.paging import cursor_for
from recycling.records.actors import Actor
from recycling.records.lots.filters import LotFilter

STATEMENT = """
SELECT a.commodity, a.kind, a.name,
       SUM(CASE WHEN e.happened_at < %s THEN p.mass_mg ELSE 0 END), SUM(p.mass_mg)
  FROM ledger_posting p JOIN ledger_entry e ON e.id = p.entry_id
  JOIN ledger_account a ON a.id = p.account_id
 WHERE e.book_id = %s AND e.happened_at < %s GROUP BY a.commodity, a.kind, a.name
"""
NOW = """
SELECT a.kind, a.name, a.commodity, a.balance_mg, l.code, l.form
  FROM ledger_account a LEFT JOIN recycling_lot l ON l.account_id = a.id
 WHERE a.book_id = %s AND a.balance_mg <> 0 ORDER BY a.id
"""


def list_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure a page deep in the list of lots, a month's statement, and the balance now."""
    workshop, end = actor.workshop_id, timezone.now()
    start = end - timedelta(days=30)
    numbers = Lot.objects.filter(workshop_id=workshop).order_by("number")
    middle = numbers.values_list("number", flat=True)[numbers.count() // 2]
    return [
        interleaved(
            "a page deep in the list of lots",
            "the first page of it",
            lambda _: lots_page(actor, LotFilter(), cursor_for(middle)),
            lambda _: lots_page(actor, LotFilter()),
            range(cases),
            goal=1.3,
        ),
        interleaved(
            "the statement of a month",
            "one aggregate over the postings",
            lambda _: statement(actor, start, end),
            lambda _: fetched(STATEMENT, _moments(start, workshop, end)),
            range(min(cases, 9)),
            goal=1.3,
        ),
        interleaved(
            "the balance now",
            "one statement",
            lambda _: balance_now(actor),
            lambda _: fetched(NOW, [workshop]),
            range(min(cases, 15)),
            agree=lambda found, rows: found.total_mg == sum(row[3] for row in rows) == 0,
        ),
    ]


def _moments(start: datetime, workshop: int, end: datetime) -> list[object]:
    adapt = connection.ops.adapt_datetimefield_value
    return [adapt(start), workshop, adapt(end)]
