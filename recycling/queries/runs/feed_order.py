"""The order in which runs were fed and gave, with what they drew and gave, read at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.calc.lots.parts import order_known
from recycling.calc.lots.recomposition import FeedLog, RunMasses
from recycling.calc.lots.winding import Interval, intervals
from recycling.ledger.models import Entry
from recycling.ledger.sql import among, moment, rows
from recycling.models import Draw, Run
from recycling.stages import KEEPING_HEELS
from recycling.stages.declaration import FED_BESIDES, HEEL, RETURNED

MOST_NAMED = 500
"""So many runs are asked for by name; of more all of a workshop are looked at."""

_LOGGED = """
SELECT 'drew' AS what, d.run_id, d.id AS place, d.lot_id, d.mass_mg, l.form,
       '' AS role, CAST(NULL AS bigint) AS origin_id, CAST(NULL AS timestamp with time zone) AS at
  FROM recycling_draw d JOIN recycling_lot l ON l.account_id = d.lot_id WHERE {draws}
UNION ALL
SELECT 'gave', made_by_id, account_id, account_id, made_mg, form, role, origin_id, NULL
  FROM recycling_lot WHERE {lots}
UNION ALL
SELECT 'fed', run_id, id, lot_id, mass_mg, '', '', NULL, happened_at
  FROM recycling_feed WHERE {feeds}
UNION ALL
SELECT CASE WHEN l.made_by_id = e.process_id THEN 'cut' ELSE 'took' END, e.process_id, p.id,
       p.account_id,
       CAST(p.mass_mg + COALESCE(
         (SELECT SUM(c.mass_mg) FROM ledger_posting c WHERE c.corrects_id = p.id), 0) AS bigint),
       '', '', NULL, e.happened_at
  FROM ledger_entry e JOIN ledger_posting p ON p.entry_id = e.id
  JOIN recycling_lot l ON l.account_id = p.account_id
 WHERE {entries} AND (
       (l.made_by_id = e.process_id AND p.corrects_id IS NULL AND p.mass_mg > 0)
       OR (l.made_by_id <> e.process_id AND e.kind = 'draw' AND p.corrects_id IS NULL
           AND p.mass_mg < 0))
ORDER BY place
"""


@dataclass
class _Logged:
    """What was read of one run, each list in the order written."""

    draws: list[tuple[int, int]] = field(default_factory=list)
    heels: set[int] = field(default_factory=set)
    besides: set[int] = field(default_factory=set)
    returned: set[int] = field(default_factory=set)
    outputs: list[tuple[int, int, int | None]] = field(default_factory=list)
    left: int | None = None
    fed: list[tuple[tuple[datetime, int, int], int, int]] = field(default_factory=list)
    took: list[tuple[tuple[datetime, int, int], int, int]] = field(default_factory=list)
    cut: dict[int, datetime] = field(default_factory=dict)


@dataclass(frozen=True)
class LoggedRun:
    """What a run drew and gave in order, and when each lot it gave was taken off the machine."""

    masses: RunMasses
    log: FeedLog
    cut_at: dict[int, datetime]

    @property
    def known(self) -> bool:
        """Whether the order follows from the times that are known."""
        return order_known(self.masses, self.log)

    def made(self, started_at: datetime, in_order: bool) -> dict[int, Interval]:
        """Say from when to when each lot was made; `in_order` where its order is stated."""
        masses = {lot_id: mass_mg for lot_id, mass_mg, _ in self.masses.outputs}
        wound = [lot_id for lot_id in self.log.given if lot_id not in self.masses.returned]
        cut_at = {lot_id: self.cut_at[lot_id] for lot_id in wound}
        return intervals(started_at, cut_at, masses, self.log.left, in_order)


def feed_logs(workshop_id: int, run_ids: Collection[int] | None = None) -> dict[int, FeedLog]:
    """Read the logs of a workshop's runs, or of those among some runs, as far as they matter.

    That is of runs in feed order, and of those that went on: each output is mixed of what was fed
    by then. A run that still goes on is not in order: what is to come is not known.
    """
    runs = Run.objects.filter(workshop_id=workshop_id)
    if run_ids is not None and len(run_ids) <= MOST_NAMED:
        runs = runs.filter(pk__in=run_ids)
    drew = Entry.objects.filter(process_id=OuterRef("pk"), kind="draw")
    logged = runs.filter(Q(composition_model=FEED_ORDER) | Exists(drew))
    chosen = {
        run_id: model == FEED_ORDER and state != Run.OPEN
        for run_id, model, state in logged.values_list("pk", "composition_model", "state")
        if run_ids is None or run_id in run_ids
    }
    return {
        run_id: replace(log, in_order=chosen[run_id]) for run_id, log in logs_of(chosen).items()
    }


def logs_of(run_ids: Collection[int]) -> dict[int, FeedLog]:
    """Read what is known of the order in some runs, however their origins are computed."""
    return {run_id: one.log for run_id, one in logged_runs(run_ids).items()}


def logged_runs(run_ids: Collection[int]) -> dict[int, LoggedRun]:
    """Read what some runs drew and gave and what is known of the order, by one statement."""
    found: dict[int, _Logged] = {run_id: _Logged() for run_id in run_ids}
    if not found:
        return {}
    columns = {
        "draws": "d.run_id",
        "lots": "made_by_id",
        "feeds": "run_id",
        "entries": "e.process_id",
    }
    wanted = {name: among(column, list(found)) for name, column in columns.items()}
    statement = _LOGGED.format(**{name: condition for name, (condition, _) in wanted.items()})
    values = [value for _, value in wanted.values()]
    for what, run_id, place, lot_id, mass_mg, form, role, origin_id, at in rows(statement, values):
        one = found[run_id]
        if what == "drew":
            if form == HEEL:
                one.heels.add(lot_id)
            if form in FED_BESIDES:
                one.besides.add(lot_id)
            if mass_mg > 0:
                one.draws.append((lot_id, mass_mg))
        elif what == "gave":
            one.outputs.append((lot_id, mass_mg, origin_id))
            one.left = lot_id if form == HEEL else one.left
            if role == RETURNED:
                one.returned.add(lot_id)
        elif what == "fed":
            one.fed.append(((moment(at), 1, place), lot_id, mass_mg))
        elif what == "took":
            one.took.append(((moment(at), 0, place), lot_id, -mass_mg))
        else:
            one.cut.setdefault(lot_id, moment(at))
    return {run_id: _logged(one) for run_id, one in found.items()}


def _logged(one: _Logged) -> LoggedRun:
    """Put what was read in order: refills as logged; where a lot has none, its draws."""
    refilled = {lot_id for _, lot_id, _ in one.fed}
    fed = sorted([*one.fed, *(drawn for drawn in one.took if drawn[1] not in refilled)])
    given = tuple(sorted(one.cut, key=one.cut.__getitem__))
    log = FeedLog(
        frozenset(one.heels),
        tuple((lot_id, mass_mg) for _, lot_id, mass_mg in fed if mass_mg > 0),
        given,
        one.left,
        tuple(at for (at, _, _), _, mass_mg in fed if mass_mg > 0),
        tuple(one.cut[lot_id] for lot_id in given),
    )
    back = frozenset(one.returned), frozenset(one.besides)
    masses = RunMasses(tuple(one.draws), tuple(one.outputs), log, *back)
    return LoggedRun(masses, log, one.cut)


def came_back(
    returned: Collection[tuple[int, int]],
) -> Callable[[int], tuple[frozenset[int], frozenset[int]]]:
    """Give for each run the lots that came back out of it, and what was fed besides the material.

    `returned` are the runs with the lots that came back out of them.
    """
    lots, besides = defaultdict(set), defaultdict(set)
    for run_id, lot_id in returned:
        lots[run_id].add(lot_id)
    if lots:
        drawn = Draw.objects.filter(
            run_id__in=lots, run__stage__in=KEEPING_HEELS, lot__form__in=FED_BESIDES
        )
        for run_id, lot_id in drawn.values_list("run_id", "lot_id"):
            besides[run_id].add(lot_id)
    return lambda run_id: (
        frozenset(lots.get(run_id, ())),
        frozenset(besides.get(run_id, ())),
    )
