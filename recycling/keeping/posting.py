"""Posting for a run; a later stock count keeps its counted mass."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from recycling.ledger.post import Change, Sheet, border_account, post_together
from recycling.models import Lot, Run
from recycling.queries.runs.whole_draws import counts_after
from recycling.records.actors import Actor
from recycling.stages.declaration import UNACCOUNTED

COUNT_STANDS = "Earlier news; the count stands."


@dataclass(frozen=True)
class Page:
    """One entry of a deed that is not written yet: what a run posts at a moment, and why."""

    run: Run
    kind: str
    at: datetime
    changes: Sequence[Change]
    reason: str = ""


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
    return write_pages(actor, [Page(run, kind, at, changes, reason)])[0][1]


def write_pages(actor: Actor, pages: Sequence[Page]) -> list[tuple[Page, list[int]]]:
    """Write the entries of one deed together; return each with the ids of its postings.

    What was counted later stays as counted, as in `post_run`; the entries of counts follow.

    Raises
    ------
    Overdrawn
        When a lot would be below zero at any moment of its history, with all of them in it.
    """
    now, pages = timezone.now(), [*pages, *_restated(pages)]
    posted = post_together([(_sheet(actor, page, now), page.changes) for page in pages])
    return [(page, postings) for page, (_, postings) in zip(pages, posted, strict=True)]


def _sheet(actor: Actor, page: Page, now: datetime) -> Sheet:
    return Sheet(
        book_id=actor.workshop_id,
        process_id=page.run.pk,
        kind=page.kind,
        happened_at=page.at,
        written_at=now,
        actor=actor.reference,
        reason=page.reason,
        key=actor.key,
    )


def _restated(pages: Sequence[Page]) -> list[Page]:
    """Take up in the next count of each lot what a deed changes before it."""
    moved = [
        (change.account_id, page.at, page.run.pk, change.mass_mg)
        for page in pages
        for change in page.changes
    ]
    if not moved:
        return []
    counts = counts_after({one[0] for one in moved}, min(one[1] for one in moved))
    taken_up: dict[tuple[int, int], int] = defaultdict(int)
    for lot_id, at, run_id, mass_mg in moved:
        of_lot = [one for one in counts if one[0] == lot_id and one[2] > at and one[1] != run_id]
        if of_lot:
            taken_up[of_lot[0][1], lot_id] -= mass_mg
    runs = Run.objects.in_bulk({run_id for run_id, _ in taken_up})
    polymers = dict(
        Lot.objects.filter(pk__in={lot_id for _, lot_id in taken_up}).values_list("pk", "polymer")
    )
    return [
        _stands(runs[run_id], lot_id, polymers[lot_id], mass_mg)
        for (run_id, lot_id), mass_mg in taken_up.items()
        if mass_mg
    ]


def _stands(count: Run, lot_id: int, polymer: str, mass_mg: int) -> Page:
    counter = border_account(count.workshop_id, UNACCOUNTED, polymer)
    assert count.ended_at is not None
    changes = [Change(lot_id, mass_mg), Change(counter, -mass_mg)]
    return Page(count, "restate", count.ended_at, changes, COUNT_STANDS)
