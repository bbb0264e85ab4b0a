"""A lot's lineage, back and forth: one recursive statement over draws and makers."""

from __future__ import annotations

from typing import Any

from recycling.ledger.sql import moment, rows
from recycling.queries.lots.lots import lot_of
from recycling.records.actors import Actor
from recycling.records.lots.traces import Trace, TraceEdge, TraceLot, TraceRun
from shared.codes import read_code
from shared.errors import Refused

ANCESTORS, DESCENDANTS, BOTH = "ancestors", "descendants", "both"

_COLUMNS = """r.code, r.number, r.stage, r.state, COALESCE(r.ended_at, r.started_at),
       l.code, l.number, l.form, l.polymer, l.role, o.code, l.made_mg"""
ABOVE = f"""
WITH RECURSIVE up(run_id) AS (
  SELECT made_by_id FROM recycling_lot WHERE workshop_id = %s AND code = %s
  UNION
  SELECT l.made_by_id FROM up
    JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.account_id = d.lot_id
), met(lot_id) AS (
  SELECT account_id FROM recycling_lot WHERE workshop_id = %s AND code = %s
  UNION
  SELECT d.lot_id FROM up JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
)
SELECT 'in', d.mass_mg, {_COLUMNS}
  FROM up JOIN recycling_run r ON r.account_id = up.run_id
  JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
  JOIN recycling_lot l ON l.account_id = d.lot_id
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
UNION ALL
SELECT 'out', l.made_mg, {_COLUMNS}
  FROM met JOIN recycling_lot l ON l.account_id = met.lot_id AND l.made_mg > 0
  JOIN recycling_run r ON r.account_id = l.made_by_id
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
"""
BELOW = f"""
WITH RECURSIVE down(run_id) AS (
  SELECT d.run_id FROM recycling_lot l
    JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
   WHERE l.workshop_id = %s AND l.code = %s
  UNION
  SELECT d.run_id FROM down
    JOIN recycling_lot l ON l.made_by_id = down.run_id
    JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
), met(lot_id) AS (
  SELECT account_id FROM recycling_lot WHERE workshop_id = %s AND code = %s
  UNION
  SELECT l.account_id FROM down JOIN recycling_lot l ON l.made_by_id = down.run_id
)
SELECT 'in', d.mass_mg, {_COLUMNS}
  FROM met JOIN recycling_lot l ON l.account_id = met.lot_id
  JOIN recycling_draw d ON d.lot_id = met.lot_id AND d.mass_mg > 0
  JOIN recycling_run r ON r.account_id = d.run_id
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
UNION ALL
SELECT 'out', l.made_mg, {_COLUMNS}
  FROM down JOIN recycling_run r ON r.account_id = down.run_id
  JOIN recycling_lot l ON l.made_by_id = down.run_id AND l.made_mg > 0
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
"""
ORIGINS_ABOVE = """
WITH RECURSIVE up(run_id) AS (
  SELECT made_by_id FROM recycling_lot WHERE account_id = %s
  UNION
  SELECT l.made_by_id FROM up
    JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.account_id = d.lot_id
) SELECT r.origin_id FROM up JOIN recycling_run r ON r.account_id = up.run_id
   WHERE r.origin_id IS NOT NULL ORDER BY r.origin_id
"""


def origin_ids_of(lot_id: int) -> list[int]:
    """Name every origin that a lot descends from, however small its share."""
    return [row[0] for row in rows(ORIGINS_ABOVE, [lot_id])]


def trace(actor: Actor, code: str, direction: str = BOTH) -> Trace:
    """Walk a lot's lineage back, forth or both.

    Raises
    ------
    Refused
        When the direction is none of these; Unknown when there is no such lot.
    """
    if direction not in (ANCESTORS, DESCENDANTS, BOTH):
        raise Refused.because("direction-unknown", "One of ancestors, descendants, both.")
    code = read_code(code) or code
    found: list[tuple[Any, ...]] = []
    if direction != DESCENDANTS:
        found += rows(ABOVE, [actor.workshop_id, code] * 2)
    if direction != ANCESTORS:
        found += rows(BELOW, [actor.workshop_id, code] * 2)
    return _trace(actor, code, direction, found)


def _trace(actor: Actor, code: str, direction: str, found: list[tuple[Any, ...]]) -> Trace:
    lots: dict[int, TraceLot] = {}
    runs: dict[int, TraceRun] = {}
    edges: dict[tuple[int, str, int], TraceEdge] = {}
    for row in found:
        way, mass_mg, run, run_number, stage, state, at, lot, number, form = row[:10]
        polymer, role, origin, made_mg = row[10:]
        edges[run_number, way, number] = TraceEdge(
            run, lot, way, mass_mg, role if way == "out" else ""
        )
        if number not in lots:
            lots[number] = TraceLot(lot, form, polymer, role, origin or "", made_mg)
        if run_number not in runs:
            runs[run_number] = TraceRun(run, stage, state, moment(at))
    if not any(lot.code == code for lot in lots.values()):
        alone = lot_of(actor, code)
        came = alone.origin.code if alone.origin else ""
        lots[alone.number] = TraceLot(
            alone.code, alone.form, alone.polymer, alone.role, came, alone.made_mg
        )
    return Trace(
        code,
        direction,
        tuple(lots[number] for number in sorted(lots)),
        tuple(runs[number] for number in sorted(runs)),
        tuple(edges[key] for key in sorted(edges)),
    )
