"""The audit of what waits to be recomputed: it may wait for a while, and not for ever."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.conf import settings
from django.utils import timezone

from recycling.jobs import RECOMPUTE
from recycling.models import Job, Lot
from recycling.records.setup.register import Finding

MOST_NAMED = 10


def waiting_findings(workshop_id: int) -> Iterator[Finding]:
    """Name lots that wait with no job to recompute them, or with one that is overdue."""
    lots = Lot.objects.filter(workshop_id=workshop_id, stale=True)
    codes = list(lots.order_by("number").values_list("code", flat=True))
    if not codes:
        return
    jobs = Job.objects.filter(workshop_id=workshop_id, task=RECOMPUTE, finished_at=None)
    since = jobs.order_by("created_at").values_list("created_at", flat=True).first()
    named = ", ".join(codes[:MOST_NAMED])
    if len(codes) > MOST_NAMED:
        named += f" and {len(codes) - MOST_NAMED} more"
    if since is None:
        why = (
            "They wait to be recomputed, and no job is left to do it; sweep_jobs starts one,"
            " a day later where the last gave up."
        )
    elif since < timezone.now() - timedelta(minutes=settings.RECALCULATE_WITHIN_MINUTES):
        why = (
            f"They wait to be recomputed since {since:%Y-%m-%d %H:%M} UTC, longer than"
            f" {settings.RECALCULATE_WITHIN_MINUTES} minutes. Does a worker run?"
        )
    else:
        return
    yield Finding(10, f"lots {named}", why)
