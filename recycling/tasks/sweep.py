"""Send jobs again that were not finished."""

from __future__ import annotations

from celery import shared_task

from recycling import jobs


@shared_task(name="recycling.sweep_jobs")
def sweep_jobs() -> int:
    waiting = jobs.due()
    for job_id, task in waiting:
        jobs.send(job_id, task)
    return len(waiting)
