"""The trace of a spool, against one recursive statement on the same data."""

from __future__ import annotations

from typing import Any

from django.db import connection

from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.management.benchmark.samples import collections, late_spools
from recycling.queries.lots.origins import origin_spools
from recycling.queries.lots.traces import trace
from recycling.records.actors import Actor

ANCESTORS = """
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
SELECT 'in', r.code, r.stage, r.state, r.ended_at, l.code, l.form, l.polymer, l.role, l.made_mg,
       o.code, d.mass_mg
  FROM up JOIN recycling_run r ON r.account_id = up.run_id
  JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
  JOIN recycling_lot l ON l.account_id = d.lot_id
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
UNION ALL
SELECT 'out', r.code, r.stage, r.state, r.ended_at, l.code, l.form, l.polymer, l.role, l.made_mg,
       o.code, l.made_mg
  FROM met JOIN recycling_lot l ON l.account_id = met.lot_id
  JOIN recycling_run r ON r.account_id = l.made_by_id
  LEFT JOIN recycling_origin o ON o.id = l.origin_id
"""
SPOOLS = """
WITH RECURSIVE down(run_id) AS (
  SELECT r.account_id FROM recycling_run r JOIN recycling_origin o ON o.id = r.origin_id
   WHERE o.workshop_id = %s AND o.code = %s
  UNION
  SELECT d.run_id FROM down
    JOIN recycling_lot l ON l.made_by_id = down.run_id
    JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
)
SELECT l.code, l.polymer, l.made_mg, c.mass_mg, r.ended_at
  FROM down JOIN recycling_lot l ON l.made_by_id = down.run_id
  JOIN recycling_spool s ON s.lot_id = l.account_id
  JOIN recycling_run r ON r.account_id = l.made_by_id
  LEFT JOIN recycling_composition c ON c.lot_id = l.account_id
   AND c.origin_id = (SELECT id FROM recycling_origin WHERE workshop_id = %s AND code = %s)
 WHERE l.made_mg > 0 ORDER BY l.number
"""


def fetched(statement: str, values: list[Any]) -> list[tuple]:
    """Run one statement through the plain driver."""
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        statement = statement.replace("%s", "?")
    cursor = connection.connection.cursor()
    try:
        cursor.execute(statement, values)
        return cursor.fetchall()
    finally:
        cursor.close()


def trace_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure traces back from late spools, and forth from early collections."""
    workshop = actor.workshop_id
    spools, origins = late_spools(workshop, cases), collections(workshop, cases)
    sizes = [len(trace(actor, code, "ancestors").runs) for code in spools[:10]]
    return [
        interleaved(
            "trace of a spool, back",
            "one recursive statement",
            lambda code: trace(actor, code, "ancestors"),
            lambda code: fetched(ANCESTORS, [workshop, code] * 2),
            spools,
            goal=1.3,
            note=f"from {min(sizes)} to {max(sizes)} runs deep in the first ten",
            agree=lambda found, rows: (
                {(e.direction, e.run, e.lot, e.mass_mg) for e in found.edges}
                == {(row[0], row[1], row[5], row[11]) for row in rows}
            ),
        ),
        interleaved(
            "spools of a collection, with parts",
            "one recursive statement",
            lambda code: origin_spools(actor, code),
            lambda code: fetched(SPOOLS, [workshop, code] * 2),
            origins,
            agree=lambda found, rows: (
                [(one.lot, one.mass_mg, one.part_mg) for one in found]
                == [(row[0], row[2], row[3] or 0) for row in rows]
            ),
        ),
    ]
