"""The lineage with a suspect's share flowing through it, to all it reached or to one spool."""

from __future__ import annotations

from typing import Any

from recycling.models import Lot
from recycling.queries.lots.holds_in_force import holds_in_force
from recycling.queries.lots.lots import lot_of
from recycling.queries.lots.run_paths import in_chunks, way_up
from recycling.queries.suspects.spread import Spread, spread_of, start_of
from recycling.records.actors import Actor
from recycling.records.suspects.affected import SharedFlow, SuspectWay, WayPlace

_COLUMNS = ("pk", "code", "form", "role", "made_by_id", "made_mg", "made_by__ended_at")
Row = tuple[Any, ...]


def suspect_way(actor: Actor, named: str, spool: str = "") -> SuspectWay:
    """Follow a suspect's share to everything it reached, or only along the ways to one spool.

    Raises
    ------
    Unknown
        When there is no such candidate or spool in this workshop.
    """
    end = lot_of(actor, spool) if spool else None
    spread = spread_of(start_of(actor, named))
    runs = set(spread.way.draws)
    if end is not None:
        runs &= set(way_up([end.pk]).draws)
    lots = _lots(spread, runs, end)
    flows = _flows(spread, runs, lots)
    held = holds_in_force(actor.workshop_id)
    one = spread.start.candidate
    return SuspectWay(
        one.key,
        one.kind,
        one.code,
        one.name,
        end.code if end else "",
        tuple(_place(spread, row, row[0] in held) for row in lots.values()),
        tuple(_run(spread, run_id) for run_id in sorted(runs)),
        tuple(flows),
    )


def _lots(spread: Spread, runs: set[int], end: Lot | None) -> dict[int, Row]:
    """Fetch the lots that carry any of it: drawn by these runs, or given and not followed on."""
    drawn = {lot for run_id in runs for lot, _ in spread.way.draws[run_id]}
    wanted = [("pk__in", drawn | set(spread.start.lots if end is None else ()))]
    if end is None:
        wanted.append(("made_by_id__in", runs))
    else:
        wanted.append(("pk__in", {end.pk}))
    rows: dict[int, Row] = {}
    for name, ids in wanted:
        for chunk in in_chunks(sorted(ids)):
            found = Lot.objects.filter(**{name: chunk}, made_mg__gt=0).values_list(*_COLUMNS)
            rows.update((row[0], row) for row in found)
    return {pk: row for pk, row in sorted(rows.items()) if spread.of_lot(pk, row[4]) > 0}


def _flows(spread: Spread, runs: set[int], lots: dict[int, Row]) -> list[SharedFlow]:
    flows = []
    for run_id in sorted(runs):
        code = spread.way.runs[run_id].code
        for lot_id, mass_mg in spread.way.draws[run_id]:
            if lot_id in lots:
                share = spread.of_lot(lot_id, lots[lot_id][4])
                part_mg = round(share * mass_mg)
                flows.append(SharedFlow(code, lots[lot_id][1], "in", "", mass_mg, part_mg, share))
    for lot_id, lot_code, _, role, maker, made_mg, _ in lots.values():
        if maker in runs:
            share = spread.of_lot(lot_id, maker)
            code, part_mg = spread.way.runs[maker].code, round(share * made_mg)
            flows.append(SharedFlow(code, lot_code, "out", role, made_mg, part_mg, share))
    return flows


def _place(spread: Spread, row: Row, held: bool) -> WayPlace:
    pk, code, form, _, maker, made_mg, at = row
    share = spread.of_lot(pk, maker)
    return WayPlace(code, form, "", round(share * made_mg), share, held, at)


def _run(spread: Spread, run_id: int) -> WayPlace:
    run, share = spread.way.runs[run_id], spread.of_run[run_id]
    part_mg = round(share * sum(mass_mg for _, mass_mg in spread.way.draws[run_id]))
    return WayPlace(run.code, "", run.stage, part_mg, share, False, run.ended_at or run.started_at)
