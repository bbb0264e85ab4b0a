"""Names of background jobs; each is an outbox row that commits with the data it belongs to."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from typing import Any

import structlog
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from recycling.models import Job

SEND_AGAIN_AFTER = timedelta(seconds=60)
log = structlog.get_logger("recycling.jobs")


def start(workshop_id: int, task: str, **arguments: Any) -> int:
    """Note a job; it is sent after the transaction commits, and again until it is done."""
    job = Job.objects.create(
        workshop_id=workshop_id, task=task, arguments=arguments, created_at=timezone.now()
    )
    transaction.on_commit(partial(send, job.pk, task))
    return job.pk


def send(job_id: int, task: str) -> None:
    """Hand a job to the broker, or run it in this process where there is none."""
    from recycling.celery import app

    Job.objects.filter(pk=job_id).update(sent_at=timezone.now())
    if not settings.REDIS_URL:
        app.loader.import_default_modules()
        app.tasks[task].apply(args=[job_id])
        return
    try:
        app.send_task(task, args=[job_id], retry=False)
    except Exception as error:  # the broker is never the only place that knows of work
        log.warning("broker away, job waits for the sweeper", job=job_id, error=repr(error))


def due() -> list[tuple[int, str]]:
    """Name the jobs that are not finished and were not sent for a while."""
    waiting = Job.objects.filter(finished_at=None).exclude(
        sent_at__gt=timezone.now() - SEND_AGAIN_AFTER
    )
    return list(waiting.order_by("pk").values_list("pk", "task"))
