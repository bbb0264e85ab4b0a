"""Reconcile a period that somebody asked for."""

from __future__ import annotations

from celery import shared_task

from recycling.keeping.background import worked
from recycling.services.balance.reconciliation import TASK, reconciliation_run


@shared_task(name=TASK)
@worked
def reconcile_period(job_id: int) -> None:
    reconciliation_run(job_id)
