"""Posting for a run; a later stock count keeps its counted mass."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from recycling.ledger.post import Change, Sheet, border_account, post
from recycling.ledger.sql import marks, rows
from recycling.models import Counted, Run
from recycling.records.actors import Actor
from recycling.stages.declaration import UNACCOUNTED

_COUNTED_LATER = (
    "SELECT c.id FROM recycling_counted c JOIN recycling_run r ON r.account_id = c.run_id"
    f" WHERE r.ended_at > %s AND r.state = '{Run.CLOSED}' AND c.run_id <> %s AND c.lot_id IN ({{}})"
)


def post_run(
    actor: Actor,
    run: Run,
    kind: str,
    at: datetime,
    changes: Sequence[Change],
    reason: str = "",
) -> list[int]:
    """Write one entry of a run and return the ids of its postings, in order.

    What was counted later stays as counted: the count's unaccounted posting takes up the
    difference, in entries of the count's own.

    Raises
    ------
    Overdrawn
        When a lot would be below zero at any moment of its history.
    """
    restated = _restated(changes, at, run)
    for count, change in restated:
        if change.mass_mg > 0:
            _restate(actor, count, change)
    _, postings = post(_sheet(actor, run, kind, at, reason), changes)
    for count, change in restated:
        if change.mass_mg < 0:
            _restate(actor, count, change)
    return postings


def _sheet(actor: Actor, run: Run, kind: str, at: datetime, reason: str) -> Sheet:
    return Sheet(
        book_id=actor.workshop_id,
        process_id=run.pk,
        kind=kind,
        happened_at=at,
        written_at=timezone.now(),
        actor=actor.reference,
        reason=reason,
        key=actor.key,
    )


def _restated(changes: Sequence[Change], at: datetime, run: Run) -> list[tuple[Run, Change]]:
    moved: dict[int, int] = {}
    for change in changes:
        moved[change.account_id] = moved.get(change.account_id, 0) + change.mass_mg
    found = rows(_COUNTED_LATER.format(marks(list(moved))), [at, run.pk, *moved])
    if not found:
        return []
    later = (
        Counted.objects.filter(pk__in=[row[0] for row in found])
        .select_related("run", "lot")
        .order_by("-run__ended_at", "-run_id")
    )
    first = {counted.lot_id: counted for counted in later}
    return [
        (counted.run, Change(lot_id, -moved[lot_id]))
        for lot_id, counted in first.items()
        if moved[lot_id]
    ]


def _restate(actor: Actor, count: Run, change: Change) -> None:
    polymer = count.counted.select_related("lot").get(lot_id=change.account_id).lot.polymer
    counter = border_account(actor.workshop_id, UNACCOUNTED, polymer)
    assert count.ended_at is not None
    post(
        _sheet(actor, count, "restate", count.ended_at, "Earlier news; the count stands."),
        [change, Change(counter, -change.mass_mg)],
    )
