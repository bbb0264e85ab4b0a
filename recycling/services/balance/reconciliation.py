"""Reconcile a period in the background; nothing of it changes a posting."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from recycling import jobs
from recycling.calc.balance.flow_network import flow_network
from recycling.calc.balance.reconciliation import Reconciliation as Found
from recycling.calc.balance.reconciliation import reconcile
from recycling.keeping.background import failures_told, job_done, job_waiting, refuse_spent
from recycling.keeping.deed import deed
from recycling.ledger.models import Book
from recycling.models import Job, Lot, ReconciledFlow, Reconciliation, Run
from recycling.queries.balance.weighed_flows import WeighedFlow, weighed_flows
from recycling.records.actors import Actor
from recycling.records.balance.reconciliations import ReconciliationEntry
from shared.errors import Refused

TASK = "recycling.reconcile_period"
ROWS_AT_ONCE = 2_000
BROKE = "Something broke on our side while it was made. Ask for it again."


@deed("record")
def reconciliation_start(actor: Actor, entry: ReconciliationEntry) -> int:
    """Note a period to reconcile and start the job; return the number it is found under.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    if entry.end <= entry.start:
        raise Refused.because("end-before-start", "The period's end is not after its start.", "/to")
    last = Reconciliation.objects.filter(workshop_id=actor.workshop_id).aggregate(Max("number"))
    asked = Reconciliation.objects.create(
        workshop_id=actor.workshop_id,
        number=(last["number__max"] or 0) + 1,
        start=entry.start,
        end=entry.end,
        asked_at=timezone.now(),
        asked_by=actor.reference,
    )
    jobs.start(actor.workshop_id, TASK, reconciliation=asked.pk)
    return asked.number


def reconciliation_run(job_id: int) -> bool:
    """Do the work of a job; one that is done or gone is left. Returns whether it was done now."""
    job = job_waiting(job_id)
    asked = job and Reconciliation.objects.filter(pk=job.arguments["reconciliation"]).first()
    if job is None or not asked:
        return False
    with failures_told(partial(_fail, asked), BROKE, ValueError, reconciliation=asked.number):
        refuse_spent(job)
        _reconcile(job, asked)
    with transaction.atomic():
        asked.done_at, asked.done_share = timezone.now(), 1.0
        asked.save()
        job_done(job)
    return True


def _fail(asked: Reconciliation, why: str) -> None:
    asked.failure = why[:500]


def _reconcile(job: Job, asked: Reconciliation) -> None:
    with transaction.atomic():
        sequence = Book.objects.values_list("last_sequence", flat=True).get(pk=job.workshop_id)
        flows = weighed_flows(job.workshop_id, asked.start, asked.end)
    asked.sequence = sequence
    if not flows:
        raise ValueError("Nothing was weighed between lots and runs in this period.")
    _progress(job, asked, 0.3)
    network = flow_network([one.source for one in flows], [one.target for one in flows])
    measured = [one.mass_mg if one.measured else math.nan for one in flows]
    found = reconcile(network, measured, [one.u_mg for one in flows])
    _progress(job, asked, 0.7)
    asked.found = _summary(found, flows)
    with transaction.atomic():
        asked.flows.all().delete()
        ReconciledFlow.objects.bulk_create(_rows(asked, found, flows), batch_size=ROWS_AT_ONCE)


def _progress(job: Job, asked: Reconciliation, share: float) -> None:
    Reconciliation.objects.filter(pk=asked.pk).update(done_share=share)
    Job.objects.filter(pk=job.pk).update(done_share=share)


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _rows(
    asked: Reconciliation, found: Found, flows: Sequence[WeighedFlow]
) -> Iterator[ReconciledFlow]:
    aside = {one.flow for one in found.suspects}
    for place, one in enumerate(flows):
        yield ReconciledFlow(
            reconciliation=asked,
            place=place,
            kind=one.kind,
            run_id=one.run_id,
            lot_id=one.lot_id,
            posting_id=one.posting_id,
            measured_mg=one.mass_mg if one.measured else None,
            u_mg=one.u_mg if one.measured else None,
            reconciled_mg=int(found.final.whole_mg[place]),
            u_reconciled_mg=float(found.u_reconciled_mg[place]),
            z=_number(found.z[place]),
            suspect=place in aside,
        )


def _summary(found: Found, flows: Sequence[WeighedFlow]) -> dict[str, Any]:
    named = {place for one in found.suspects for place in one.tied}
    runs = dict(
        Run.objects.filter(pk__in={flows[n].run_id for n in named}).values_list("pk", "code")
    )
    lots = dict(
        Lot.objects.filter(pk__in={flows[n].lot_id for n in named}).values_list("pk", "code")
    )

    def tied(place: int) -> dict[str, Any]:
        one = flows[place]
        return {
            "run": runs.get(one.run_id or 0, ""),
            "lot": lots.get(one.lot_id or 0, ""),
            "kind": one.kind,
            "posting": one.posting_id,
            "measured_mg": one.mass_mg,
            "reconciled_mg": int(found.final.whole_mg[place]),
        }

    first = found.first
    return {
        "flows": len(flows),
        "weighed": sum(one.measured for one in flows),
        "gamma": first.gamma if first.dof else None,
        "limit": _number(first.limit()),
        "p_value": _number(first.p_value),
        "dof": first.dof,
        "passes": None if first.passes() is None else bool(first.passes()),
        "ended": bool(found.has_ended),
        "suspects": [
            {
                "z": one.z,
                "z_limit": one.z_limit,
                "gamma": one.gamma,
                "dof": one.dof,
                "tied": [tied(place) for place in one.tied],
            }
            for one in found.suspects
        ],
    }
