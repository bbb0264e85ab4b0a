"""What the work of every background job shares: finding it, ending it, telling why it failed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import structlog
from django.db import InterfaceError, OperationalError
from django.utils import timezone

from recycling.models import Job
from shared.errors import Refused, Unavailable

log = structlog.get_logger("recycling.jobs")


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
