"""Machines whose losses have moved, of runs that were judged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from recycling.calc.balance.closure import Closure
from recycling.calc.balance.loss_drift import Judged, drift
from recycling.models import Run
from recycling.records.balance.closures import LossDrift
from recycling.stages import stage as stage_of
from shared.said import say


def drifts(judged: Iterable[tuple[Run, Closure]]) -> tuple[LossDrift, ...]:
    """Say of each machine whether its losses moved, by its closed runs in order of their end."""
    by_machine: dict[tuple[str, str], list[Judged]] = defaultdict(list)
    for run, found in sorted(judged, key=lambda one: (one[0].ended_at, one[0].pk)):
        band, machine = found.band, run.machine.name if run.machine else ""
        by_machine[run.stage, machine].append(
            Judged(found.went_in_mg, found.unaccounted.value, band.mean_mg, band.sd_mg)
        )
    moved = [(place, drift(runs)) for place, runs in sorted(by_machine.items())]
    return tuple(
        LossDrift(
            stage, machine, one.now, one.before, _sentence(stage, machine, one.now, one.before)
        )
        for (stage, machine), one in moved
        if one is not None
    )


def _sentence(stage: str, machine: str, now: float, before: float) -> str:
    declared = stage_of(stage)
    values = {
        "stage": declared.title if declared else stage,
        "machine": machine,
        "now": f"{100 * now:.1f}",
        "before": f"{100 * before:.1f}",
    }
    if machine:
        return say(
            "{stage}, {machine}: lately {now} % is unaccounted for. {before} % was usual.", **values
        )
    return say("{stage}: lately {now} % is unaccounted for. {before} % was usual.", **values)
