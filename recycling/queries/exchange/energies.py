"""Energy of runs as others were told it, and as it is known now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from math import isclose

from django.db.models import Q

from recycling.models import ToldEnergy
from recycling.queries.energy.runs import runs_where
from recycling.queries.lots.run_paths import in_chunks
from recycling.records.exchange.exports import ExportEnergy

SAME = 1e-9
"""Sums of the same logs differ by less than this in their last digits."""

Energies = dict[int, tuple[ExportEnergy, ...]]


def energies_of(workshop_id: int, run_ids: Iterable[int], now: datetime) -> Energies:
    """Give all figures of runs' energy in order, the last as it is known `now`, told or not.

    A run that is void, or open, has only what was told of it.
    """
    run_ids = list(run_ids)
    told: dict[int, list[ExportEnergy]] = defaultdict(list)
    for chunk in in_chunks(run_ids):
        rows = ToldEnergy.objects.filter(run_id__in=chunk).order_by("number")
        for one in rows:
            told[one.run_id].append(ExportEnergy(one.number, one.kwh, one.method, one.told_at))
    done = Q(pk__in=run_ids, ended_at__isnull=False)
    for run_id, energy in runs_where(workshop_id, done).records.items():
        known = bool(energy.method) and energy.kwh > 0
        kwh, method = (energy.kwh, energy.method) if known else (None, "")
        before = told[run_id][-1] if told[run_id] else None
        if before is None or not _same(before, kwh, method):
            told[run_id].append(ExportEnergy(len(told[run_id]) + 1, kwh, method, now, told=False))
    return {run_id: tuple(each) for run_id, each in told.items()}


def told_before(workshop_id: int, moment: datetime) -> list[int]:
    """Name the runs that ended before a moment and of whose energy something was told."""
    rows = ToldEnergy.objects.filter(run__workshop_id=workshop_id, run__ended_at__lt=moment)
    return list(rows.order_by("run_id").values_list("run_id", flat=True).distinct())


def _same(before: ExportEnergy, kwh: float | None, method: str) -> bool:
    if before.kwh is None or kwh is None:
        return before.kwh is kwh
    return before.method == method and isclose(before.kwh, kwh, rel_tol=SAME)
