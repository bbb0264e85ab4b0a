"""Bring marked compositions up to date, in one transaction."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from recycling import jobs
from recycling.jobs import RECOMPUTE
from recycling.keeping.background import MOST_TRIES
from recycling.keeping.compositions import recompute_waiting
from recycling.keeping.deed import retried
from recycling.ledger.post import lock_book
from recycling.models import Job, Lot

AGAIN_AFTER = timedelta(days=1)


def compositions_recompute(job_id: int) -> int:
    """Recompute all that waits in the workshop of a job; a job that is done or gone is left.

    Returns the number of lots rewritten; none when another job did it all. The old figures
    stand until all new ones are complete.
    """
    return retried(partial(_recompute, job_id))


def _recompute(job_id: int) -> int:
    with transaction.atomic():
        job = Job.objects.filter(pk=job_id, finished_at=None).first()
        if job is None or job.tries > MOST_TRIES:
            return 0
        lock_book(job.workshop_id)
        job.refresh_from_db()
        if job.finished_at is not None:
            return 0
        changed = recompute_waiting(job.workshop_id)
        job.finished_at, job.done_share = timezone.now(), 1.0
        job.save(update_fields=["finished_at", "done_share"])
        return changed


def left_waiting() -> int:
    """Start a job for each workshop where lots wait and nothing is left to do it; count them.

    Where a job gave up, the next is tried a day later, or with the next correction.
    """
    waiting = Lot.objects.filter(stale=True).values_list("workshop_id", flat=True)
    wanted = set(waiting.order_by().distinct()) - set(_at_work())
    return sum(retried(partial(_start, workshop_id)) for workshop_id in sorted(wanted))


def _start(workshop_id: int) -> bool:
    with transaction.atomic():
        lock_book(workshop_id)
        lots = Lot.objects.filter(workshop_id=workshop_id, stale=True)
        if workshop_id in _at_work() or not lots.exists():
            return False
        jobs.start(workshop_id, RECOMPUTE, run_ids=[])
        return True


def _at_work() -> list[int]:
    ours = Job.objects.filter(task=RECOMPUTE)
    gave_up = ~Q(failure="") & Q(finished_at__gt=timezone.now() - AGAIN_AFTER)
    at_work = ours.filter(Q(finished_at=None) | gave_up)
    return list(at_work.values_list("workshop_id", flat=True))
