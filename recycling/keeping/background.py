"""What the work of every background job shares: finding it, ending it, telling why it failed."""

from __future__ import annotations

import fcntl
import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import structlog
from django.conf import settings
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.db.models import F
from django.utils import timezone

from recycling.models import Job
from shared.errors import Refused, Unavailable
from shared.said import say

MOST_TRIES = 3
GAVE_UP = say("It was begun three times and never came to its end; it is not tried again.")
LOCK_OF_A_JOB = 7_206
"""First key of the advisory locks of jobs on PostgreSQL, apart from those of answers."""
log = structlog.get_logger("recycling.jobs")


def worked(function: Callable[[int], Any]) -> Callable[[int], Any]:
    """Count a try of a job, unless somebody is at it; after the third it is only ended.

    A try whose worker dies counts; one that the database kept from its end does not. A function
    calls `refuse_spent` where what is refused is told to whoever waits.
    """

    @functools.wraps(function)
    def work(job_id: int) -> Any:
        with _alone(job_id) as mine:
            if not mine:
                return None
            tried = Job.objects.filter(pk=job_id, finished_at=None)
            tried.update(tries=F("tries") + 1)
            spent = tried.filter(tries__gt=MOST_TRIES)
            spent.update(failure=GAVE_UP)
            try:
                done = function(job_id)
            except (OperationalError, InterfaceError, Unavailable):
                with suppress(DatabaseError):
                    tried.filter(tries__lte=MOST_TRIES).update(tries=F("tries") - 1)
                raise
            spent.update(finished_at=timezone.now())
            return done

    return work


def refuse_spent(job: Job) -> None:
    """Refuse to go on with a job that was tried often enough."""
    if job.tries > MOST_TRIES:
        raise Refused.because("job-gave-up", GAVE_UP)


@contextmanager
def _alone(job_id: int) -> Iterator[bool]:
    """Hold a job while it is worked on; whoever holds it lets go when they die."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s, %s)", [LOCK_OF_A_JOB, job_id % 2**31])
            mine = bool(cursor.fetchone()[0])
        try:
            yield mine
        finally:
            if mine:
                _let_go(job_id)
        return
    place = Path(settings.DATA_DIR) / "jobs" / f"{job_id}.lock"
    place.parent.mkdir(parents=True, exist_ok=True)
    with place.open("w") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield False
            return
        try:
            yield True
        finally:
            place.unlink(missing_ok=True)


def _let_go(job_id: int) -> None:
    """Give a job's lock back; a connection that cannot is closed, which does it too."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s, %s)", [LOCK_OF_A_JOB, job_id % 2**31])
    except (DatabaseError, InterfaceError):
        if not connection.in_atomic_block:
            connection.close()


def job_waiting(job_id: int) -> Job | None:
    """Fetch a job, unless it is done or gone."""
    return Job.objects.filter(pk=job_id, finished_at=None).first()


def job_done(job: Job) -> None:
    """Note that a job is done, whatever came of it; it is not sent again."""
    Job.objects.filter(pk=job.pk).update(finished_at=timezone.now(), done_share=1.0)


@contextmanager
def failures_told(
    tell: Callable[[str], Any], broke: str, said: type[Exception] = Refused, **about: Any
) -> Iterator[None]:
    """Tell whoever waits why the work inside came to nothing.

    An error of the kind `said` has words for people; of any other the log has `about` and the
    error, and people are told what to do when it `broke`.

    Raises
    ------
    OperationalError, InterfaceError, Unavailable
        When the database is away; the job stays and is sent again.
    """
    try:
        yield
    except (OperationalError, InterfaceError, Unavailable):
        raise
    except Exception as error:  # whatever it is, whoever waits must be told
        if isinstance(error, said | Refused):
            tell(str(error))
        else:
            log.exception("job broke", error=repr(error), **about)
            tell(broke)
