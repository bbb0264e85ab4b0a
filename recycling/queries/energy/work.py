"""What machines did and when: runs, named phases and parts that were on, read at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import FloatField, Q, QuerySet, Value
from django.db.models.functions import Cast
from django.utils import timezone

from recycling.calc.energy.intervals import Span, epoch_us
from recycling.ledger.sql import among, rows
from recycling.models import MachinePhase, PartTime, Run
from recycling.queries.energy.logs import PartSpan

AROUND = timedelta(days=2)
RUN, PHASE, TIME = "run", "phase", "time"
DRAWN, WATER = "drawn", "water"
_RUN_COLUMNS = (
    "pk",
    "code",
    "stage",
    "polymer",
    "machine_id",
    "machine__name",
    "started_at",
    "ended_at",
)


@dataclass(frozen=True)
class RunRow:
    """A run on a machine; one that goes on ends now."""

    pk: int
    code: str
    stage: str
    polymer: str
    machine_id: int
    machine: str
    started_at: datetime
    ended_at: datetime


@dataclass
class MachineWork:
    """What a machine did: times of its runs, named phases, and times its parts were on."""

    runs: dict[int, Span] = field(default_factory=dict)
    phases: list[tuple[str, Span]] = field(default_factory=list)
    parts: list[PartSpan] = field(default_factory=list)

    @property
    def edges_us(self) -> list[int]:
        """Moments at which something starts or ends."""
        spans = [*self.runs.values(), *(span for _, span in self.phases)]
        spans += [one.span for one in self.parts]
        return sorted({edge for span in spans for edge in span})


def run_rows(condition: Q) -> list[RunRow]:
    """Read runs on machines that are not void, in the order they ended."""
    rows = Run.objects.filter(condition, machine__isnull=False).exclude(state=Run.VOID)
    now = timezone.now()
    found = [
        RunRow(*(*row[:7], row[7] or max(now, row[6]))) for row in rows.values_list(*_RUN_COLUMNS)
    ]
    return sorted(found, key=lambda one: (one.ended_at, one.pk))


def row_of(run: Run) -> RunRow | None:
    """Give a run that was read already; None for one without a machine or that is void."""
    if run.machine is None or run.state == Run.VOID:
        return None
    ended_at = run.ended_at or max(timezone.now(), run.started_at)
    said = (run.pk, run.code, run.stage, run.polymer, run.machine.pk, run.machine.name)
    return RunRow(*said, run.started_at, ended_at)


def machines_work(wanted: Iterable[RunRow]) -> dict[int, MachineWork]:
    """Read what the machines of runs did around them, in one query."""
    spans: dict[int, tuple[datetime, datetime]] = {}
    for run in wanted:
        first, last = spans.get(run.machine_id, (run.started_at, run.ended_at))
        spans[run.machine_id] = (min(first, run.started_at), max(last, run.ended_at))
    found = {machine: MachineWork() for machine in spans}
    if not spans:
        return found
    now = timezone.now()
    for kind, machine, key, name, start, end, rated_w, duty in _work(spans):
        span = epoch_us(start), epoch_us(end or max(now, start))
        if kind == RUN:
            found[machine].runs[key] = span
        elif span[1] > span[0] and kind == PHASE:
            found[machine].phases.append((name, span))
        elif span[1] > span[0]:
            found[machine].parts.append(PartSpan(key, span, rated_w, duty))
    return found


def _work(spans: Mapping[int, tuple[datetime, datetime]]) -> QuerySet[Any, Any]:
    def touching(machine: str) -> Q:
        chosen = Q()
        for key, (first, last) in spans.items():
            going = Q(ended_at=None) | Q(ended_at__gte=first - AROUND)
            chosen |= Q(**{machine: key}) & Q(started_at__lt=last + AROUND) & going
        return chosen

    none, nothing = Cast(Value(None), FloatField()), Value("")
    runs = Run.objects.filter(touching("machine_id")).exclude(state=Run.VOID)
    phases = MachinePhase.objects.filter(touching("machine_id"), taken_back_at=None)
    times = PartTime.objects.filter(touching("part__machine_id"), taken_back_at=None)
    time = ("started_at", "ended_at")
    return (
        runs.order_by()
        .values_list(Value(RUN), "machine_id", "pk", nothing, *time, none, none)
        .union(
            phases.order_by().values_list(
                Value(PHASE), "machine_id", "pk", "kind", *time, none, none
            ),
            times.order_by().values_list(
                Value(TIME),
                "part__machine_id",
                "part_id",
                nothing,
                *time,
                "part__rated_w",
                "part__duty",
            ),
            all=True,
        )
    )


@dataclass
class SaidOfRun:
    """What runs gave by role, drew and drove off as water, mg; temperatures logged, °C by key."""

    mass_mg: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    temperature_c: list[tuple[str, float]] = field(default_factory=list)


_SAID = """
SELECT made_by_id, role, SUM(made_mg), NULL FROM recycling_lot
 WHERE {made} GROUP BY made_by_id, role
UNION ALL
SELECT run_id, 'drawn', SUM(mass_mg), NULL FROM recycling_draw WHERE {drawn} GROUP BY run_id
UNION ALL
SELECT e.process_id, 'water', SUM(p.mass_mg), NULL
  FROM ledger_entry e
  JOIN ledger_posting p ON p.entry_id = e.id
  JOIN ledger_account a ON a.id = p.account_id AND a.kind = 'border' AND a.name = 'water'
 WHERE {water} GROUP BY e.process_id
UNION ALL
SELECT run_id, key, NULL, value FROM recycling_runsetting
 WHERE {heat} AND superseded_at IS NULL AND substr(key, length(key) - 1) = '_c'
"""


def said_of_runs(run_ids: Iterable[int]) -> dict[int, SaidOfRun]:
    """Read masses and temperatures of runs, in one query."""
    pks = list(run_ids)
    columns = {"made": "made_by_id", "drawn": "run_id", "water": "e.process_id", "heat": "run_id"}
    chosen = {name: among(column, pks) for name, column in columns.items()}
    statement = _SAID.format(**{name: condition for name, (condition, _) in chosen.items()})
    found: dict[int, SaidOfRun] = defaultdict(SaidOfRun)
    for run_id, what, mass_mg, text in rows(statement, [value for _, value in chosen.values()]):
        if text is not None:
            found[run_id].temperature_c.append((what, float(text.replace(",", "."))))
        else:
            found[run_id].mass_mg[what] += int(mass_mg)
    return found
