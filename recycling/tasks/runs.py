"""Recompute compositions after a correction with many descendants."""

from __future__ import annotations

from celery import shared_task

from recycling.keeping.background import worked
from recycling.services.runs.recompute import compositions_recompute


@shared_task(name="recycling.recompute_compositions")
@worked
def recompute_compositions(job_id: int) -> None:
    compositions_recompute(job_id)
