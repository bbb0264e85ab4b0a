"""Make archives that somebody asked for, and clear them away when they expire."""

from __future__ import annotations

from celery import shared_task

from recycling.keeping.archive_files import archives_clear
from recycling.keeping.background import worked
from recycling.services.archive_make import TASK, archive_make


@shared_task(name=TASK)
@worked
def make_archive(job_id: int) -> None:
    archive_make(job_id)


@shared_task(name="recycling.clear_archives")
def clear_archives() -> int:
    return archives_clear()
