"""Keeping what deviated in step with what is recorded."""

from __future__ import annotations

from collections.abc import Iterable

from recycling.models import Lot, RunDeviation
from recycling.queries.lots.deviations import fresh_deviations, kept_departures


def keep_deviations(workshop_id: int, run_ids: Iterable[int], new: bool = False) -> None:
    """Work out what deviated in runs and keep it; `new` for a run that nothing is kept of yet."""
    fresh = fresh_deviations(workshop_id, run_ids)
    if not new:
        kept = kept_departures(fresh)
        fresh = {run: found for run, found in fresh.items() if found != kept.get(run, [])}
        RunDeviation.objects.filter(run_id__in=[run for run in fresh if kept.get(run)]).delete()
    codes = {one.lot for found in fresh.values() for one in found if one.lot}
    lots = {}
    if codes:
        named = Lot.objects.filter(workshop_id=workshop_id, code__in=codes)
        lots = dict(named.values_list("code", "pk"))
    rows = [
        RunDeviation(run_id=run, lot_id=lots.get(one.lot), key=one.key, values=one.values)
        for run, found in fresh.items()
        for one in found
    ]
    if rows:
        RunDeviation.objects.bulk_create(rows)
