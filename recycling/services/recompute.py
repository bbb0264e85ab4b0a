"""Bring marked compositions up to date, in one transaction."""

from __future__ import annotations

from functools import partial

from django.db import transaction
from django.utils import timezone

from recycling.keeping.background import MOST_TRIES
from recycling.keeping.compositions import downstream_runs, recompute
from recycling.keeping.deed import retried
from recycling.ledger.post import lock_book
from recycling.models import Job


def compositions_recompute(job_id: int) -> int:
    """Recompute all that descends from the runs a job names; one that is done or gone is left.

    Returns the number of lots rewritten. The old figures stand until all new ones are complete.
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
        changed = recompute(job.workshop_id, downstream_runs(job.arguments["run_ids"]))
        job.finished_at, job.done_share = timezone.now(), 1.0
        job.save(update_fields=["finished_at", "done_share"])
        return changed
