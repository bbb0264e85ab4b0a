"""A report of everything a large book holds: read in one snapshot, and all its files made."""

from __future__ import annotations

import resource
from datetime import date, timedelta
from time import perf_counter, process_time

from django.utils import timezone

from recycling.ledger.snapshots import snapshot
from recycling.management.benchmark.measure import Ratio, interleaved
from recycling.management.benchmark.traces import fetched
from recycling.models import Run
from recycling.records.actors import Actor
from recycling.records.reports.files import FILES, FrozenReport
from recycling.records.reports.question import PERIOD, ReportQuestion
from recycling.reports.content import document_of
from recycling.reports.frozen_files import files_of
from recycling.tables.reports.json_file import json_of

MADE = 3
KIB_IN_MIB = 1024
MOVED = """
SELECT e.process_id, a.kind, a.name, a.commodity, a.id, CAST(SUM(p.mass_mg) AS BIGINT)
  FROM ledger_posting p JOIN ledger_entry e ON e.id = p.entry_id
  JOIN ledger_account a ON a.id = p.account_id
 WHERE e.book_id = %s AND a.kind <> 'process'
 GROUP BY e.process_id, a.id
"""
TYPED = """
SELECT p.id, p.corrects_id, p.mass_mg, e.process_id, p.account_id, a.kind, w.how, w.tare_mg,
       w.scale_id, w.sample_id, w.u_mg
  FROM ledger_posting p JOIN ledger_entry e ON e.id = p.entry_id
  JOIN ledger_account a ON a.id = p.account_id
  LEFT JOIN recycling_weighing w ON w.posting_id = p.id
 WHERE e.book_id = %s AND (a.kind = 'lot' OR a.name IN ('water', 'residue', 'dust', 'volatiles'))
   AND e.kind NOT IN ('close', 'void', 'restate')
"""
RUNS = """
SELECT r.account_id, r.code, r.stage, r.state, r.polymer, r.machine_id, o.kind, r.started_at,
       r.ended_at
  FROM recycling_run r LEFT JOIN recycling_origin o ON o.id = r.origin_id WHERE r.workshop_id = %s
"""
LOTS = """
SELECT l.account_id, l.code, l.form, l.polymer, l.role, l.count, l.made_by_id, l.made_mg,
       l.traces_mg, s.lot_id
  FROM recycling_lot l LEFT JOIN recycling_spool s ON s.lot_id = l.account_id
 WHERE l.workshop_id = %s
"""
PARTS = """
SELECT c.lot_id, COUNT(*), COUNT(*) FILTER (WHERE o.kind = 'collection'),
       CAST(SUM(c.mass_mg) FILTER (WHERE o.kind = 'collection') AS BIGINT)
  FROM recycling_composition c JOIN recycling_lot l ON l.account_id = c.lot_id
  JOIN recycling_origin o ON o.id = c.origin_id
 WHERE l.workshop_id = %s GROUP BY c.lot_id
"""
DRAWN = """
SELECT d.run_id, d.lot_id, d.mass_mg FROM recycling_draw d
  JOIN recycling_run r ON r.account_id = d.run_id WHERE r.workshop_id = %s
"""
PLAIN = (MOVED, TYPED, RUNS, LOTS, PARTS, DRAWN)
"""Sums and rows that a report of the whole book is made of, each fetched once. They judge no
weighing, follow no material, add nothing up by month, stage or place, and write nothing."""


def report_ratios(actor: Actor, cases: int) -> list[Ratio]:
    """Measure the reading of a report and the making of its files against plain SQL."""
    last = timezone.now().date()
    runs = Run.objects.filter(workshop_id=actor.workshop_id)
    first = runs.order_by("started_at").values_list("started_at", flat=True)[0].date()
    question = ReportQuestion(PERIOD, max(first, last - timedelta(days=7000)), last)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun, worked = perf_counter(), process_time()
    body = _read(actor, question)
    read_s, read_cpu_s = perf_counter() - begun, process_time() - worked
    files = files_of(body)
    whole_s, whole_cpu_s = perf_counter() - begun, process_time() - worked
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / KIB_IN_MIB
    sizes = ", ".join(f"{kind} {len(files[kind]) // 1024} KiB" for kind in FILES)
    note = (
        f"{runs.count():,} runs, {_days(question)} days; first: read in {read_s:.1f} s"
        f" ({read_cpu_s:.1f} s of it here), with files {whole_s:.1f} s ({whole_cpu_s:.1f} s here),"
        f" {grown:.0f} MiB more at most; {sizes}"
    )
    return [
        interleaved(
            "the reading of a report",
            "six statements that fetch and sum its rows",
            lambda _: _read(actor, question),
            lambda _: _plain(actor.workshop_id),
            range(cases),
            goal=2.0,
        ),
        interleaved(
            "a report and its five files",
            "the same six statements",
            lambda _: files_of(_read(actor, question)),
            lambda _: _plain(actor.workshop_id),
            range(min(cases, MADE)),
            note=note,
        ),
    ]


def _plain(workshop_id: int) -> list[list]:
    return [fetched(statement, [workshop_id]) for statement in PLAIN]


def _read(actor: Actor, question: ReportQuestion) -> str:
    with snapshot():
        document = document_of(actor, question)
    return json_of(FrozenReport("D1-K", 1, timezone.now(), "", question, document))


def _days(question: ReportQuestion) -> int:
    first: date = question.from_date
    return (question.to_date - first).days + 1
