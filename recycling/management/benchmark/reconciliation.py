"""Reconciliation of all flows of a book, from stored weighings to the kept result."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

import numpy as np
from django.utils import timezone
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from recycling.calc.balance.flow_fit import Fit, fit_flows
from recycling.calc.balance.flow_network import FlowNetwork, contracted, flow_network
from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.models import Job, ReconciledFlow, Reconciliation
from recycling.queries.balance.weighed_flows import WeighedFlow, weighed_flows
from recycling.records.actors import Actor
from recycling.services.balance.reconciliation import TASK, reconciliation_run

START = datetime(2000, 1, 1, tzinfo=UTC)
ANCHOR = "scipy splu on ready arrays"
MOST_CASES = 5
SYMMETRIC = {
    "permc_spec": "MMD_AT_PLUS_A",
    "diag_pivot_thresh": 0.0,
    "options": {"SymmetricMode": True},
}


def reconciliation_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure the fit with its assembly, and the way from stored weighings to kept rows."""
    end = timezone.now()
    flows = weighed_flows(actor.workshop_id, START, end)
    network = flow_network([one.source for one in flows], [one.target for one in flows])
    measured = [one.mass_mg if one.measured else math.nan for one in flows]
    ready = Ready(network, np.array(measured), np.array([one.u_mg for one in flows]))
    turns = range(min(cases, MOST_CASES))
    return [
        interleaved(
            f"fit of {len(flows):,} flows, with assembly",
            ANCHOR,
            lambda _: fit_flows(network, measured, ready.u_mg),
            lambda _: ready.solved(),
            turns,
            goal=1.5,
            agree=ready.agrees,
        ),
        interleaved(
            f"{len(flows):,} flows, stored to kept",
            ANCHOR,
            lambda _: _kept(actor, end),
            lambda _: ready.solved(),
            turns,
            note="reading figures, uncertainties, tests, gross errors and writing rows included",
            agree=lambda number, _: _balances(number, flows, network),
        ),
    ]


class Ready:
    """The problem as arrays, assembled beforehand: x = y - S A' (A S A')^-1 A y."""

    def __init__(self, network: FlowNetwork, measured_mg: np.ndarray, u_mg: np.ndarray) -> None:
        used = np.isfinite(measured_mg)
        joined = contracted(network, used)
        self.u_mg, self.used, self.network = u_mg, used, network
        self.flows_mg = np.where(used, measured_mg, 0.0)
        self.variance = np.where(used, u_mg, 0.0) ** 2
        self.balance = _incidence(joined.tail, joined.head, joined.equations)
        self.matrix = csc_array(self.balance @ diags_array(self.variance) @ self.balance.T)
        self.gain_mg = self.balance @ self.flows_mg

    def solved(self) -> np.ndarray:
        """Factor, solve, and give the reconciled flows, mg."""
        potential = splu(self.matrix, **SYMMETRIC).solve(self.gain_mg)
        return self.flows_mg - self.variance * (self.balance.T @ potential)

    def agrees(self, fit: Fit, flows_mg: np.ndarray) -> bool:
        """Whether weighed flows are the same within a milligram, and whole ones balance exactly."""
        off = np.abs(fit.reconciled_mg - flows_mg)[self.used]
        return float(off.max()) < 1.0 and _exact(fit.whole_mg, self.network)


def _incidence(tail: np.ndarray, head: np.ndarray, equations: int) -> Any:
    flow = np.arange(len(tail))
    into, out = (head >= 0) & (tail != head), (tail >= 0) & (tail != head)
    return csc_array(
        (
            np.concatenate((np.ones(into.sum()), -np.ones(out.sum()))),
            (np.concatenate((head[into], tail[out])), np.concatenate((flow[into], flow[out]))),
        ),
        shape=(equations, len(tail)),
    )


def _exact(whole_mg: np.ndarray, network: FlowNetwork) -> bool:
    left = [0] * (network.balances + 1)
    ends = zip(network.source.tolist(), network.target.tolist(), whole_mg.tolist(), strict=True)
    for source, target, mass_mg in ends:
        left[source] -= int(mass_mg)
        left[target] += int(mass_mg)
    return not any(left[:-1])


def _kept(actor: Actor, end: datetime) -> int:
    """Reconcile as the background job does, and return the key of what is kept."""
    Reconciliation.objects.filter(workshop_id=actor.workshop_id).delete()
    asked = Reconciliation.objects.create(
        workshop_id=actor.workshop_id, number=1, start=START, end=end, asked_at=timezone.now()
    )
    job = Job.objects.create(
        workshop_id=actor.workshop_id,
        task=TASK,
        arguments={"reconciliation": asked.pk},
        created_at=timezone.now(),
    )
    assert reconciliation_run(job.pk)
    return asked.pk


def _balances(key: int, flows: list[WeighedFlow], network: FlowNetwork) -> bool:
    rows = ReconciledFlow.objects.filter(reconciliation_id=key).order_by("place")
    whole_mg = np.array(rows.values_list("reconciled_mg", flat=True))
    return len(whole_mg) == len(flows) and _exact(whole_mg, network)
