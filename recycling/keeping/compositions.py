"""Keeping the composition of each lot in step with the postings.

After a correction: figures of all that descends follow, at once or in a marked job.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.conf import settings

from recycling import jobs
from recycling.calc.lots.composition import TRACES, Composition, well_mixed
from recycling.calc.lots.recomposition import RunMasses, recompose
from recycling.jobs import RECOMPUTE
from recycling.keeping.deviations import keep_deviations
from recycling.ledger.sql import MOST_VALUES, insert, marks, rows
from recycling.models import Composition as Part
from recycling.models import Draw, Lot, Run
from recycling.queries.runs.feed_order import came_back, feed_logs
from recycling.stages.declaration import RETURNED
from shared.errors import Refused
from shared.said import say

_DOWNSTREAM = """
WITH RECURSIVE down(run_id) AS (
  {start}
  UNION
  SELECT d.run_id FROM down JOIN recycling_lot l ON l.made_by_id = down.run_id
  JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
) SELECT run_id FROM down
"""

_WAITING = "SELECT l.made_by_id FROM recycling_lot l WHERE l.workshop_id = %s AND l.stale"

_STORED = """
SELECT l.account_id, l.traces_mg, l.stale, c.origin_id, c.mass_mg
  FROM recycling_lot l LEFT JOIN recycling_composition c ON c.lot_id = l.account_id
 WHERE l.account_id IN ({})
"""
_FLOOR = """
UNION ALL
SELECT NULL, trace_floor_ppm, NULL, NULL, NULL FROM recycling_workshop WHERE book_id = %s
 ORDER BY 1, 4
"""


@dataclass(frozen=True)
class _Stored:
    """Compositions of lots in mg, whether one waits to be recomputed, and the least share, ppm.

    The least share is the one that keeps its name in the workshop.
    """

    parts: dict[int, Composition]
    waiting: bool
    floor_ppm: int


def _read(workshop_id: int, lot_ids: Iterable[int]) -> _Stored:
    """Read what is stored of lots, traces included."""
    lot_ids = list(lot_ids)
    stored: dict[int, Composition] = defaultdict(dict)
    waiting, floor_ppm = False, 0
    for start in range(0, len(lot_ids) or 1, MOST_VALUES // 2):
        wanted = lot_ids[start : start + MOST_VALUES // 2]
        statement = _STORED.format(marks(wanted)) + _FLOOR
        for lot_id, traces_mg, stale, origin_id, mass_mg in rows(statement, [*wanted, workshop_id]):
            if lot_id is None:
                floor_ppm = traces_mg
                continue
            waiting = waiting or bool(stale)
            if origin_id is not None:
                stored[lot_id][origin_id] = mass_mg
            if traces_mg:
                stored[lot_id][TRACES] = traces_mg
    for parts in stored.values():
        if TRACES in parts:
            parts[TRACES] = parts.pop(TRACES)
    return _Stored(stored, waiting, floor_ppm)


def compose_outputs(
    workshop_id: int, draws: Sequence[tuple[int, int]], outputs: Sequence[tuple[int, int]]
) -> None:
    """Store the compositions of a run's new lots; both are (lot id, mass in mg)."""
    if not outputs:
        return
    known = _read(workshop_id, (lot_id for lot_id, _ in draws))
    made = well_mixed(
        [(known.parts.get(lot_id, {}), mass_mg) for lot_id, mass_mg in draws],
        [mass_mg for _, mass_mg in outputs],
        known.floor_ppm,
    )
    store_new([(lot_id, parts) for (lot_id, _), parts in zip(outputs, made, strict=True)])
    if known.waiting:
        Lot.objects.filter(pk__in=[lot_id for lot_id, _ in outputs]).update(stale=True)


def store_new(compositions: Sequence[tuple[int, Composition]]) -> None:
    """Store compositions of lots that have none yet."""
    insert(
        "recycling_composition",
        ("id", "lot_id", "origin_id", "mass_mg"),
        [
            (lot_id, origin_id, mass_mg)
            for lot_id, parts in compositions
            for origin_id, mass_mg in parts.items()
            if origin_id is not TRACES
        ],
    )
    for lot_id, parts in compositions:
        if parts.get(TRACES):
            Lot.objects.filter(pk=lot_id).update(traces_mg=parts[TRACES])


def downstream_runs(run_ids: Sequence[int]) -> set[int]:
    """Name the runs themselves and all that descend from what they gave."""
    if not run_ids:
        return set()
    start = "VALUES " + ", ".join(["(CAST(%s AS bigint))"] * len(run_ids))
    return {row[0] for row in rows(_DOWNSTREAM.format(start=start), list(run_ids))}


def recompute_waiting(workshop_id: int) -> int:
    """Recompute all that waits in a workshop, whoever marked it; return lots rewritten.

    Descents that meet are one: what each of several corrections marked rests on what the others
    did, so that none of them could be brought up to date alone.
    """
    found = rows(_DOWNSTREAM.format(start=_WAITING), [workshop_id])
    return recompute(workshop_id, {row[0] for row in found})


def recompute(workshop_id: int, run_ids: Iterable[int]) -> int:
    """Recompute what these runs gave, in the order material met them; return lots rewritten.

    What deviated in them follows.
    """
    affected = set(run_ids)
    runs = _masses(workshop_id, affected)
    made_here = {lot for run in runs.values() for lot, _, _ in run.outputs}
    drawn = {lot for run in runs.values() for lot, _ in run.draws}
    known = _read(workshop_id, drawn - made_here)
    fresh = recompose(runs, known.parts, known.floor_ppm)
    stored = _read(workshop_id, made_here).parts
    changed = {lot: parts for lot, parts in fresh.items() if parts != stored.get(lot, {})}
    _replace(changed)
    Lot.objects.filter(made_by_id__in=affected, stale=not known.waiting).update(stale=known.waiting)
    keep_deviations(workshop_id, affected)
    return len(changed)


def _masses(workshop_id: int, run_ids: set[int]) -> dict[int, RunMasses]:
    draws: dict[int, list[tuple[int, int]]] = defaultdict(list)
    drawn = Draw.objects.filter(run_id__in=run_ids, mass_mg__gt=0).order_by("pk")
    for run_id, lot_id, mass_mg in drawn.values_list("run_id", "lot_id", "mass_mg"):
        draws[run_id].append((lot_id, mass_mg))
    outputs: dict[int, list[tuple[int, int, int | None]]] = defaultdict(list)
    returned = set()
    lots = Lot.objects.filter(made_by_id__in=run_ids).order_by("pk")
    for lot_id, run_id, made_mg, origin_id, role in lots.values_list(
        "pk", "made_by_id", "made_mg", "origin_id", "role"
    ):
        outputs[run_id].append((lot_id, made_mg, origin_id))
        if role == RETURNED:
            returned.add((run_id, lot_id))
    logs = feed_logs(workshop_id, run_ids)
    back = came_back(returned)
    return {
        run_id: RunMasses(
            tuple(draws[run_id]), tuple(outputs[run_id]), logs.get(run_id), *back(run_id)
        )
        for run_id in run_ids
    }


def _replace(changed: dict[int, Composition]) -> None:
    Part.objects.filter(lot_id__in=changed).delete()
    Lot.objects.filter(pk__in=changed, traces_mg__gt=0).update(traces_mg=0)
    store_new(list(changed.items()))


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
    jobs.start(workshop_id, RECOMPUTE, run_ids=list(run_ids))
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
