"""After a correction: figures of all that descends follow, at once or in a marked job."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings

from recycling import jobs
from recycling.keeping.compositions import downstream_runs, recompute
from recycling.models import Lot, Run
from recycling.queries.audit_waiting import TASK
from shared.errors import Refused
from shared.said import say


def follow_up(workshop_id: int, run_ids: Sequence[int]) -> int:
    """Recompute what descends from these runs; return how many runs were left to a job.

    Above ``RECALCULATE_AT_ONCE_RUNS`` the old figures stand, marked, until a background job
    has the new ones complete.
    """
    affected = downstream_runs(run_ids)
    if len(affected) <= settings.RECALCULATE_AT_ONCE_RUNS:
        recompute(workshop_id, affected)
        return 0
    Lot.objects.filter(made_by_id__in=affected).update(stale=True)
    jobs.start(workshop_id, TASK, run_ids=list(run_ids))
    return len(affected)


def refuse_circle(run: Run, lot_code: str, made_by_id: int, pointer: str) -> None:
    """Refuse a draw from what the run gave, itself or over whatever other runs."""
    if made_by_id in downstream_runs([run.pk]):
        raise Refused.because(
            "lot-own-output",
            say(
                "Lot {lot_code} descends from run {run} itself; a run cannot draw that.",
                lot_code=lot_code,
                run=run.code,
            ),
            pointer,
        )
