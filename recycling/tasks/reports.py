"""Make a report that somebody asked for."""

from __future__ import annotations

from celery import shared_task

from recycling.keeping.background import worked
from recycling.services.reports.ask import TASK
from recycling.services.reports.make import report_make


@shared_task(name=TASK)
@worked
def make_report(job_id: int) -> None:
    report_make(job_id)
