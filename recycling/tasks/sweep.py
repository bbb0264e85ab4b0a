"""Send jobs again that were not finished, and find work that has lost its job."""

from __future__ import annotations

from celery import shared_task

from recycling import jobs
from recycling.services.recompute import left_waiting


@shared_task(name="recycling.sweep_jobs")
def sweep_jobs() -> int:
    """Return how many jobs were sent, those for lots that were left waiting among them."""
    waiting = jobs.due()
    for job_id, task in waiting:
        jobs.send(job_id, task)
    return len(waiting) + left_waiting()
