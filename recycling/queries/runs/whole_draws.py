"""Draws that took a lot whole, whatever that was: they follow when its mass is put right."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from recycling.ledger.models import Posting
from recycling.ledger.sql import marks, moment, rows
from recycling.models import Run, Weighing

_COUNTS = (
    "SELECT c.lot_id, r.account_id, r.ended_at FROM recycling_counted c"
    " JOIN recycling_run r ON r.account_id = c.run_id"
    f" WHERE r.state = '{Run.CLOSED}' AND r.ended_at > %s AND c.lot_id IN ({{}})"
    " ORDER BY r.ended_at, r.account_id"
)


def counts_after(lot_ids: Iterable[int], at: datetime) -> list[tuple[int, int, datetime]]:
    """List the counts of lots after a moment, the earliest first: lot, run and when."""
    lot_ids = list(lot_ids)
    found = rows(_COUNTS.format(marks(lot_ids)), [at, *lot_ids])
    return [(lot_id, run_id, moment(ended_at)) for lot_id, run_id, ended_at in found]


def whole_draws(lot_id: int, since: datetime) -> list[Posting]:
    """List the draws that took a lot whole since, up to its next count, the latest first.

    A later count stands: what is put right before it changes nothing after it.
    """
    draws = (
        Posting.objects.select_related("entry", "account")
        .filter(account_id=lot_id, mass_mg__lt=0, corrects=None)
        .filter(weighing__how=Weighing.BY_BOOK, entry__happened_at__gte=since)
        .filter(entry__kind__in=("run", "draw", "rechain"))
        .exclude(entry__process__run__state=Run.VOID)
    )
    counts = counts_after([lot_id], since)
    if counts:
        draws = draws.filter(entry__happened_at__lte=counts[0][2])
    return list(draws.order_by("-entry__happened_at", "-pk"))
