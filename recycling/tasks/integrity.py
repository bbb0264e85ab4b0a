"""Make archives that somebody asked for, and clear them away when they expire.

Send jobs again that were not finished, and find work that has lost its job.
"""

from __future__ import annotations

from celery import shared_task

from recycling import jobs
from recycling.keeping.background import worked
from recycling.keeping.expired_files import archives_clear
from recycling.services.integrity.archive_make import TASK, archive_make
from recycling.services.runs.recompute import left_waiting


@shared_task(name=TASK)
@worked
def make_archive(job_id: int) -> None:
    archive_make(job_id)


@shared_task(name="recycling.clear_archives")
def clear_archives() -> int:
    return archives_clear()


@shared_task(name="recycling.sweep_jobs")
def sweep_jobs() -> int:
    """Return how many jobs were sent, those for lots that were left waiting among them."""
    waiting = jobs.due()
    for job_id, task in waiting:
        jobs.send(job_id, task)
    return len(waiting) + left_waiting()
