"""The runs that a report's material went through, and its part of what each was fed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from recycling.models import Draw, Run
from recycling.records.energy.stages import RunPart
from recycling.records.reports.documents import DAY, SHARE, Column, Table
from recycling.reports.counted import Sure
from recycling.reports.counters import WORKS
from recycling.reports.movements import Movements
from recycling.reports.places import mass, stage_title, words
from recycling.stages.declaration import PRODUCT


@dataclass(frozen=True, slots=True)
class Fed:
    """What a run was fed in all, mg, and the part of it that the report is about."""

    own_mg: int
    all_mg: int

    @property
    def share(self) -> float:
        """The part over all of it."""
        return self.own_mg / self.all_mg


def fed_of(found: Movements) -> dict[int, Fed]:
    """Read what runs that ended in the period were fed, of those with some of it among it."""
    scope = found.scope
    rows = Draw.objects.filter(
        run__workshop_id=scope.actor.workshop_id,
        run__stage__in=WORKS,
        run__state=Run.CLOSED,
        run__ended_at__gte=scope.start,
        run__ended_at__lt=scope.end,
        mass_mg__gt=0,
    ).values_list("run_id", "lot_id", "mass_mg")
    sums: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for run_id, lot_id, mass_mg in rows.iterator():
        sums[run_id][0] += found.part(lot_id, mass_mg)
        sums[run_id][1] += mass_mg
    return {run_id: Fed(*one) for run_id, one in sums.items() if one[0]}


def run_parts(found: Movements, fed: dict[int, Fed]) -> dict[int, RunPart]:
    """Say of each of these runs what share of its energy, and what product, is the report's."""
    product_mg: dict[int, int] = defaultdict(int)
    for lot_id, lot in found.lots.items():
        if lot.maker in fed and lot.role == PRODUCT:
            product_mg[lot.maker] += found.part(lot_id, lot.made_mg)
    return {run_id: RunPart(one.share, product_mg[run_id]) for run_id, one in fed.items()}


def of_its_runs(found: Movements, sure: Sure) -> Sure:
    """Keep the figures of runs through which some of it went in the period, others' in them too."""
    if found.scope.is_whole:
        return sure
    touched = {moved.run_id for moved in found.inside if moved.mass_mg}
    return replace(sure, figures=[one for one in sure.figures if one.run_id in touched])


def runs_table(found: Movements, fed: dict[int, Fed]) -> Table:
    """List the runs that are meant, with its part of what each was fed, in the order they ended."""
    rows = []
    for run_id in sorted(fed, key=lambda key: (found.runs[key].ended_at, key)):
        run, one = found.runs[run_id], fed[run_id]
        day = found.scope.day(run.ended_at)
        rows.append((run.code, stage_title(run.stage), day, one.all_mg, one.own_mg, one.share))
    return Table(
        "runs_through",
        _("Runs that it went through, and its part of what each was fed"),
        (
            words("run", _("Run")),
            words("stage", _("Stage")),
            Column("ended_day", _("Ended"), DAY),
            mass("fed_mg", _("Fed in all")),
            mass("part_mg", _("Its part"), "computed"),
            Column("part_share", _("Share"), SHARE, how="computed"),
        ),
        tuple(rows),
    )
