"""Which lots were made while a setting was in a band, and for what part of their making."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from recycling.calc.lots.winding import in_force
from recycling.models import Run, RunSetting
from recycling.queries.lots.run_paths import Way, WayRun
from recycling.queries.suspects.bands import Bands
from recycling.queries.suspects.way_order import WayOrder
from recycling.stages.declaration import Field


def made_in_band(
    workshop_id: int, stage_key: str, field: Field, band: str, bands: Bands
) -> dict[int, float]:
    """Give the part of each lot, above 0 to 1, that was made while a setting was in a band.

    A part that is not known (``recycling.calc.lots.winding.in_force``) counts as a whole one
    here: what may be affected is to be found.
    """
    rows = RunSetting.objects.filter(
        run__workshop_id=workshop_id, run__stage=stage_key, key=field.key
    )
    changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
    for run_id, value, at in rows.order_by("happened_at", "pk").values_list(
        "run_id", "value", "happened_at"
    ):
        changes[run_id].append((at, bands.of_setting(value, field.unit)))
    met = {run_id for run_id, told in changes.items() if any(one == band for _, one in told)}
    order = WayOrder(_way(met), met)
    found: dict[int, float] = {}
    for run_id in sorted(met):
        for lot_id, made in order.intervals(run_id).items():
            part = in_force(changes[run_id], made).get(band, 0.0)
            if part != 0:
                found[lot_id] = part if part == part else 1.0
    return found


def _way(run_ids: set[int]) -> Way:
    """Give runs alone, without what they drew."""
    way = Way()
    columns = ("code", "stage", "state", "polymer", "started_at", "ended_at", "composition_model")
    for run_id, *facts in Run.objects.filter(pk__in=run_ids).values_list("pk", *columns):
        code, stage, state, polymer, started_at, ended_at, model = facts
        way.runs[run_id] = WayRun(
            code, stage, state, polymer, None, "", started_at, ended_at, model
        )
    return way
