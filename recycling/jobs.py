"""Names of background jobs; each is an outbox row that commits with the data it belongs to."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from importlib import import_module
from typing import Any

import structlog
from celery import Task
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from recycling.models import Job

SEND_AGAIN_AFTER = timedelta(seconds=60)
TASKS = "recycling.tasks"
RECOMPUTE = "recycling.recompute_compositions"
"""Started by writes of several kinds, and asked for by the audit."""
_held = threading.local()
"""Jobs of this thread that wait until it lets other writers of the process go on."""
log = structlog.get_logger("recycling.jobs")


def start(workshop_id: int, task: str, **arguments: Any) -> int:
    """Note a job; it is sent after the transaction commits, and again until it is done."""
    job = Job.objects.create(
        workshop_id=workshop_id, task=task, arguments=arguments, created_at=timezone.now()
    )
    transaction.on_commit(lambda: send(job.pk, task), robust=True)
    return job.pk


def send(job_id: int, task: str) -> None:
    """Hand a job to the broker, or run it in this process where there is none.

    What it belongs to is in the book already, so that nothing fails here for whoever sends it:
    a job that could not be sent, or broke, stays and is sent again.
    """
    try:
        _send(job_id, task)
    except Exception as error:  # the broker is never the only place that knows of work
        log.exception("job waits for the sweeper", job=job_id, task=task, error=repr(error))


def _send(job_id: int, task: str) -> None:
    _note_sent(job_id)
    if settings.REDIS_URL:
        from recycling.celery import app

        app.send_task(task, args=[job_id], retry=False)
    elif (waiting := getattr(_held, "jobs", None)) is not None:
        waiting.append((job_id, task))
    else:
        task_named(task).apply(args=[job_id])


def _note_sent(job_id: int) -> None:
    Job.objects.filter(pk=job_id).update(sent_at=timezone.now())


def task_named(task: str) -> Task:
    """Find a task; their modules are whole before they are asked, however many ask at once."""
    from recycling.celery import app

    import_module(TASKS)
    return app.tasks[task]


@contextmanager
def held_back() -> Iterator[None]:
    """Do no job in this thread inside, where other writers wait for it, but right after."""
    if getattr(_held, "jobs", None) is not None:
        yield
        return
    _held.jobs = []
    try:
        yield
    finally:
        waiting, _held.jobs = _held.jobs, None
    for job_id, task in waiting:
        send(job_id, task)


def due() -> list[tuple[int, str]]:
    """Name the jobs that are not finished and were not sent for a while."""
    waiting = Job.objects.filter(finished_at=None).exclude(
        sent_at__gt=timezone.now() - SEND_AGAIN_AFTER
    )
    return list(waiting.order_by("pk").values_list("pk", "task"))
