"""Which limits of their plastic runs did not keep: drying, moisture at the feed, temperature."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby

from recycling.ledger.sql import marks, moment, rows
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.process.drying_facts import Drying, bound_after, number, takes_up_water
from recycling.queries.setup.parameters import Entered, entered
from recycling.records.process.limits_missed import HOT, MOIST, OUTSIDE, SHORT, WET, LimitMissed
from recycling.stages import DRYING, Keys

LIMITED = Keys(lambda one: one.dries or one.keeps_heel)
"""Stages whose plastic has limits: those that dry it, and those that melt it in a barrel."""
MEASURED = "moisture_before_percent"

_RUNS = """
SELECT r.account_id, r.workshop_id, r.stage, r.polymer, r.started_at, r.ended_at,
       l.account_id, l.code, l.form, l.polymer, m.account_id, m.ended_at,
       (SELECT MAX(e.happened_at) FROM ledger_posting p JOIN ledger_entry e ON e.id = p.entry_id
         WHERE p.account_id = l.account_id AND e.process_id = r.account_id
           AND e.kind = 'draw' AND p.mass_mg < 0)
  FROM recycling_run r
  LEFT JOIN recycling_draw d ON d.run_id = r.account_id AND d.mass_mg > 0
  LEFT JOIN recycling_lot l ON l.account_id = d.lot_id
  LEFT JOIN recycling_run m ON m.account_id = l.made_by_id AND m.stage IN ({dryers})
 WHERE r.account_id IN ({runs}) AND r.stage IN ({stages}) ORDER BY r.number, d.id
"""
_NOTES = """
SELECT 'set', run_id, id, key, value, happened_at FROM recycling_runsetting
 WHERE superseded_at IS NULL AND run_id IN ({runs})
UNION ALL
SELECT 'check', run_id, id, key, value, happened_at FROM recycling_runcheck
 WHERE superseded_at IS NULL AND run_id IN ({runs})
UNION ALL
SELECT 'event', lot_id, id, kind, '', happened_at FROM recycling_lotevent
 WHERE kind IN ('sealed', 'opened') AND lot_id IN ({lots})
ORDER BY 6, 3
"""


@dataclass
class Fed:
    """A lot that a run drew: what it is, how it was dried if it was, and when it was fed."""

    lot_id: int
    code: str
    form: str
    polymer: str
    dryer: int | None
    dryer_ended_at: datetime | None
    fed_at: datetime


@dataclass
class LimitedRun:
    """A run with what it drew."""

    run_id: int
    workshop_id: int
    stage: str
    polymer: str
    started_at: datetime
    ended_at: datetime | None
    fed: list[Fed] = field(default_factory=list)


@dataclass
class RunNotes:
    """Settings and checks of runs and events of lots, in order of time."""

    settings: dict[int, list[tuple[str, datetime, str]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    checks: dict[int, dict[str, str]] = field(default_factory=lambda: defaultdict(dict))
    measured: dict[int, list[tuple[datetime, str]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    events: dict[int, list[tuple[datetime, str]]] = field(default_factory=lambda: defaultdict(list))

    def checked(self, run_id: int, key: str, value: str, at: datetime) -> None:
        """Keep a check: the newest of each, and every moisture that was measured at the feed."""
        self.checks[run_id][key] = value
        if key == MEASURED:
            self.measured[run_id].append((at, value))

    def in_order(self) -> None:
        """Sort what was read in any order by time."""
        for settings in self.settings.values():
            settings.sort(key=lambda one: one[1])
        for told in (*self.events.values(), *self.measured.values()):
            told.sort(key=lambda one: one[0])


@dataclass(frozen=True)
class Limits:
    """What runs missed, by run; and the polymers that take up no water, for which no clock runs."""

    missed: Mapping[int, tuple[LimitMissed, ...]]
    waterless: frozenset[str]


def limits_of(run_ids: Iterable[int]) -> Limits:
    """Say which limits of their plastic runs of one workshop did not keep."""
    found = Limits({}, frozenset())
    rules: Entered | None = None
    for chunk in in_chunks(list(run_ids)):
        runs = _read(chunk)
        if runs:
            rules = rules or entered(runs[0].workshop_id)
            more = limits_by(runs, _noted(runs), rules)
            found = Limits({**found.missed, **more.missed}, more.waterless)
    return found


def limits_by(runs: Iterable[LimitedRun], noted: RunNotes, rules: Entered) -> Limits:
    """Say the same of runs that were read already, with what was noted and how they are judged."""
    found = {one.run_id: tuple(_missed(one, noted, rules)) for one in runs}
    limits = rules.materials["limits"].items()
    return Limits(
        {run_id: missed for run_id, missed in found.items() if missed},
        frozenset(polymer for polymer, row in limits if takes_up_water(row) is False),
    )


def _read(run_ids: Iterable[int]) -> list[LimitedRun]:
    wanted = list(run_ids)
    found: dict[int, LimitedRun] = {}
    dryers, limited = list(DRYING), list(LIMITED)
    statement = _RUNS.format(runs=marks(wanted), stages=marks(limited), dryers=marks(dryers))
    for row in rows(statement, [*dryers, *wanted, *limited]):
        run_id, workshop_id, key, polymer, started_at, ended_at, lot_id, code, form, of = row[:10]
        dryer, dryer_ended_at, drawn_at = row[10:]
        ends = moment(ended_at) if ended_at else None
        run = found.setdefault(
            run_id,
            LimitedRun(run_id, workshop_id, key, polymer, moment(started_at), ends),
        )
        if lot_id is not None:
            ended = moment(dryer_ended_at) if dryer_ended_at else None
            fed_at = moment(drawn_at or started_at)
            run.fed.append(Fed(lot_id, code, form, of, dryer, ended, fed_at))
    return list(found.values())


def _noted(runs: Sequence[LimitedRun]) -> RunNotes:
    notes = RunNotes()
    dryers = {fed.dryer for one in runs for fed in one.fed if fed.dryer}
    ids = {one.run_id for one in runs} | dryers
    lots = {fed.lot_id for one in runs for fed in one.fed if fed.dryer}
    statement = _NOTES.format(runs=marks(list(ids)), lots=marks(list(lots)))
    for kind, about, _, key, value, at in rows(statement, [*ids, *ids, *lots]):
        if kind == "set":
            notes.settings[about].append((key, moment(at), value))
        elif kind == "check":
            notes.checked(about, key, value, moment(at))
        else:
            notes.events[about].append((moment(at), key))
    return notes


def _missed(run: LimitedRun, notes: RunNotes, rules: Entered) -> Iterator[LimitMissed]:
    if run.stage in DRYING:
        yield from _dried(run, notes, rules)
        return
    for fed in run.fed:
        yield from _wet(fed, notes, rules)
    yield from _damp(run, notes, rules)
    yield from _outside(run, notes, rules)


def _damp(run: LimitedRun, notes: RunNotes, rules: Entered) -> Iterator[LimitMissed]:
    """Say what was measured at the feed above its limit; the first reading holds from the start."""
    limit, told = _most(rules, run.polymer), notes.measured[run.run_id]
    if limit is None or not told:
        return
    first = told[0][0]
    read = [(at if at > first else run.started_at, number(value)) for at, value in told]
    for value, changes in _beyond(read, lambda percent: percent > limit):
        yield LimitMissed(WET, run.polymer, "", value, limit, changes=changes)


def _beyond(
    told: Sequence[tuple[datetime, float]], missed: Callable[[float], bool]
) -> Iterator[tuple[float, tuple[tuple[datetime, str], ...]]]:
    """Give each value beyond a limit, with the changes from one value to the next."""
    changes = tuple((at, f"{value:.6g}" if missed(value) else "") for at, value in told)
    for value in sorted({value for _, value in told if missed(value)}):
        yield value, changes


def _most(rules: Entered, polymer: str) -> float | None:
    limits = rules.materials["limits"].get(polymer)
    return limits.values.get("moisture_percent") if takes_up_water(limits) and limits else None


def _dried(run: LimitedRun, notes: RunNotes, rules: Entered) -> Iterator[LimitMissed]:
    polymer = run.polymer
    if run.ended_at is None or takes_up_water(rules.materials["limits"].get(polymer)) is False:
        return
    recipe = rules.materials["drying"].get(polymer)
    told = Drying(polymer, run.ended_at, notes.checks[run.run_id], notes.settings[run.run_id])
    check = told.check(recipe)
    if check and recipe:
        if not check.dry_enough:
            hours = recipe.values["time_h"]
            yield LimitMissed(SHORT, polymer, "", check.at_temperature_h, hours)
        if check.too_hot_h:
            most_c = recipe.values["most_c"]
            yield LimitMissed(HOT, polymer, "", check.too_hot_h, most_c)
    measured, limit = told.notes.get("moisture_after_percent"), _most(rules, polymer)
    if measured and limit is not None and number(measured) > limit:
        yield LimitMissed(MOIST, polymer, "", number(measured), limit)


def _wet(fed: Fed, notes: RunNotes, rules: Entered) -> Iterator[LimitMissed]:
    """Say what was fed above its limit, as far as that is known."""
    limit = _most(rules, fed.polymer)
    if limit is None or fed.dryer is None or fed.dryer_ended_at is None:
        return
    told = Drying(
        fed.polymer, fed.dryer_ended_at, notes.checks[fed.dryer], notes.settings[fed.dryer]
    )
    materials = rules.materials
    left = told.moisture(
        materials["hydrolysis"].get(fed.polymer), materials["drying"].get(fed.polymer)
    )
    open_h = told.open_h(fed.fed_at, notes.events[fed.lot_id])
    bound = bound_after(left, open_h, materials["regain"].get(fed.polymer), rules.practice)
    if bound is not None and 100 * bound > limit:
        measured = open_h == 0 and "moisture_after_percent" in told.notes
        yield LimitMissed(
            WET, fed.polymer, fed.code, 100 * bound, limit, measured=measured, at=fed.fed_at
        )


def _outside(run: LimitedRun, notes: RunNotes, rules: Entered) -> Iterator[LimitMissed]:
    """Hold the hottest zone against the range: a feed zone may be cooler than the melt.

    A run that changes from another plastic is held against it only as it was set in the end.
    """
    window = rules.windows.get(run.polymer)
    told = _hottest(notes.settings[run.run_id])
    if window is None or not told:
        return
    if any(fed.polymer != run.polymer for fed in run.fed):
        last = told[-1][0]
        told = [one for one in told if one[0] == last]
    for value, changes in _beyond(told, lambda hot: not window.low_c <= hot <= window.high_c):
        yield LimitMissed(
            OUTSIDE, run.polymer, "", value, window.low_c, window.high_c, changes=changes
        )


def _hottest(settings: Sequence[tuple[str, datetime, str]]) -> list[tuple[datetime, float]]:
    """Say how hot the hottest zone was from when on; several values where a moment has several."""
    now: dict[str, list[float]] = {}
    found: list[tuple[datetime, float]] = []
    zones = [(at, key, number(value)) for key, at, value in settings if key.startswith("zone_")]
    for at, changed in groupby(zones, key=lambda one: one[0]):
        fresh: dict[str, list[float]] = defaultdict(list)
        for _, key, value in changed:
            fresh[key].append(value)
        now |= fresh
        least, most = max(map(min, now.values())), max(map(max, now.values()))
        found += [(at, value) for value in sorted({least, most})]
    return found
