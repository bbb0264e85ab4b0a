"""What spools can have in common on their way, as numbered marks of draws and runs."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator
from datetime import datetime
from itertools import zip_longest
from typing import Any

from recycling.calc.lots.recomposition import Portion
from recycling.calc.lots.winding import in_force
from recycling.calc.suspects.passage import Drawn, Passing
from recycling.ledger.sql import marks, moment, rows
from recycling.queries.lots.run_paths import Way, in_chunks
from recycling.queries.process.limits_missed import (
    LIMITED,
    Fed,
    LimitedRun,
    RunNotes,
    limits_by,
    limits_of,
)
from recycling.queries.setup.parameters import Entered
from recycling.queries.suspects.bands import Bands
from recycling.queries.suspects.open_times import (
    dried_feeds,
    dried_here,
    lot_open_h,
)
from recycling.queries.suspects.way_order import WayOrder
from recycling.records.process.limits_missed import LimitMissed
from recycling.records.suspects.ranking import Candidate
from recycling.stages import WORKING, stage
from recycling.stages.declaration import HEEL
from recycling.stages.deviations import Departure

MET = "met"
"""Kind of the marks that only say what part of a spool met one deviation: no candidates."""

Settings = dict[str, list[tuple[datetime, str]]]
"""Key of a setting → when it came into which band, in order of time."""

_NOTES = """
SELECT 'setting', run_id, id AS written, key, value, CAST(NULL AS boolean), happened_at
  FROM recycling_runsetting WHERE superseded_at IS NULL AND run_id IN ({marks})
UNION ALL
SELECT 'check', run_id, id, key, value, within, happened_at
  FROM recycling_runcheck WHERE superseded_at IS NULL AND run_id IN ({marks})
UNION ALL
SELECT 'deviation', v.run_id, v.id, v.key || ':' || COALESCE(l.code, ''),
       CAST(v."values" AS text), NULL, NULL
  FROM recycling_rundeviation v LEFT JOIN recycling_lot l ON l.account_id = v.lot_id
 WHERE v.run_id IN ({marks})
UNION ALL
SELECT 'returned', made_by_id, account_id, '', '', NULL, NULL
  FROM recycling_lot WHERE role = 'returned' AND made_by_id IN ({marks})
UNION ALL
SELECT 'event', lot_id, id, kind, '', NULL, happened_at
  FROM recycling_lotevent WHERE kind IN ('sealed', 'opened') AND lot_id IN ({lots})
ORDER BY written
"""


class CandidateBook:
    """Numbers the candidates of a way as they are met, and says what portions and runs bear."""

    def __init__(self, way: Way, bands: Bands, rules: Entered | None = None) -> None:
        self.way = way
        self._bands = bands
        self._numbers: dict[tuple[str, object], int] = {}
        self._of_run: dict[int, tuple[int, ...]] = {}
        self._names: dict[int, str] = {}
        self._settings: dict[int, Settings] = defaultdict(lambda: defaultdict(list))
        self.checks: dict[tuple[int, str], tuple[str, bool | None]] = {}
        self._events: dict[int, list[tuple[datetime, int, str]]] = defaultdict(list)
        self._noted = RunNotes()
        self.departures: dict[int, list[Departure]] = defaultdict(list)
        self._timed: set[int] = set()
        self._dried = set(dried_feeds(way))
        self._read_notes()
        self._timed |= {run_id for run_id in way.runs if self._was_reset(run_id)}
        self.order = WayOrder(way, self._timed)
        self.limits = (
            limits_by(self._limited(), self._noted, rules) if rules else limits_of(way.runs)
        )
        self._dried = {
            feed for feed in self._dried if way.lots[feed[1]].polymer not in self.limits.waterless
        }
        self.fed: dict[tuple[int, int], dict[datetime, float | None]] = defaultdict(dict)
        for run_id in way.draws:
            self._of_run[run_id] = self._run(run_id)

    def __len__(self) -> int:
        return len(self._numbers)

    def number_of(self, *met: object) -> int | None:
        """Give the number of a portion (run, lot, when fed) or a limit (run, what was missed)."""
        return self._numbers.get((MET, met))

    def marks_of_run(self, run_id: int) -> tuple[int, ...]:
        """Give the numbers of what everything bears that went through a run."""
        return self._of_run[run_id]

    def passing(self, run_id: int, gave: tuple[int, ...]) -> Passing:
        """Give a run with the marks of each portion, of all that it gave and of each output."""
        drawn = tuple(
            Drawn(one.lot, one.mass_mg, self.marks_of_portion(run_id, one))
            for one in self.order.portions(run_id)
        )
        parts, borne = self.order.parts(run_id), self.borne(run_id)
        back = self.order.returned(run_id)
        return Passing(drawn, self._of_run[run_id], gave, parts, borne, back)

    def _number(self, kind: str, key: object) -> int:
        return self._numbers.setdefault((kind, key), len(self._numbers))

    def marks_of_portion(self, run_id: int, one: Portion) -> tuple[int, ...]:
        """Number what all of a portion bears: its lot, its origin, how long it lay open."""
        lot, run = self.way.lots[one.lot], self.way.runs[run_id]
        fed, marks = one.at or run.started_at, [self._number("lot", one.lot)]
        if lot.origin_id is not None:
            marks.append(self._number("origin", lot.origin_id))
        own = [
            self._number("deviation", found.key)
            for found in self.departures.get(run_id, ())
            if found.lot == lot.code
        ]
        if lot.form == HEEL and run.polymer and lot.polymer != run.polymer:
            own.append(self._number("heel", lot.polymer))
        if (run_id, one.lot) in self._dried:
            hours = lot_open_h(
                self.way, one.lot, fed, self.checks, self._events, self._bands.limit_h
            )
            band = self._bands.of_open(hours)
            if band:
                own.append(self._number("open", band))
                self.fed[run_id, one.lot][fed] = hours
        missed = self.limits.missed.get(run_id, ())
        kinds = dict.fromkeys(one.kind for one in missed if one.lot == lot.code and one.at == fed)
        own += [self._number("limit", kind) for kind in kinds]
        if own:
            own.append(self._number(MET, (run_id, one.lot, fed)))
            self.fed[run_id, one.lot].setdefault(fed, 0.0)
        return (*marks, *own)

    def _limited(self) -> Iterator[LimitedRun]:
        """Give the runs that dry or melt with what was fed to them, refill by refill."""
        for run_id, run in self.way.runs.items():
            if run.stage not in LIMITED:
                continue
            told = LimitedRun(run_id, 0, run.stage, run.polymer, run.started_at, run.ended_at)
            portions = self.order.portions(run_id)
            for lot_id, at in dict.fromkeys(
                (one.lot, one.at or run.started_at) for one in portions
            ):
                lot = self.way.lots[lot_id]
                dryer = lot.maker if dried_here(self.way, lot_id) else None
                ended_at = self.way.runs[lot.maker].ended_at if dryer else None
                told.fed.append(Fed(lot_id, lot.code, lot.form, lot.polymer, dryer, ended_at, at))
            yield told

    def _run(self, run_id: int) -> tuple[int, ...]:
        """Number what everything bears that went through a run, whenever that was."""
        run = self.way.runs[run_id]
        if run.stage not in WORKING:
            return ()
        marks = [self._number("run", run_id)]
        if run.machine_id is not None:
            marks.append(self._number("machine", run.machine_id))
            self._names[run.machine_id] = run.machine
        marks += [
            self._number("deviation", found.key)
            for found in self.departures.get(run_id, ())
            if not found.lot
        ]
        if not self._was_reset(run_id):
            marks += [
                self._number("setting", (run.stage, key, changes[0][1]))
                for key, changes in self._settings.get(run_id, {}).items()
            ]
        missed = self._missed(run_id)
        return (*marks, *{self._number("limit", one.kind) for one in missed if not one.changes})

    def _missed(self, run_id: int) -> list[LimitMissed]:
        """List the limits that a run itself did not keep."""
        return [one for one in self.limits.missed.get(run_id, ()) if not one.lot]

    def _was_reset(self, run_id: int) -> bool:
        """Say whether a setting of a run was not one and the same from its start on."""
        run = self.way.runs[run_id]
        return run.stage in WORKING and any(
            len({band for _, band in changes}) > 1 or changes[0][0] > run.started_at
            for changes in self._settings.get(run_id, {}).values()
        )

    def borne(self, run_id: int) -> dict[int, dict[int, float]]:
        """Say what part of each output was made in each band of a setting, or beyond a limit."""
        key_of = self.way.runs[run_id].stage
        reset = self._settings[run_id].items() if self._was_reset(run_id) else ()
        missed = [one for one in self._missed(run_id) if one.changes]
        if not reset and not missed:
            return {}
        found: dict[int, dict[int, float]] = {}
        for lot_id, made in self.order.intervals(run_id).items():
            own = {
                self._number("setting", (key_of, key, band)): part
                for key, changes in reset
                for band, part in in_force(changes, made).items()
            }
            for one in missed:
                part = in_force(one.changes, made).get(one.shown, 0.0)
                of_kind = self._number("limit", one.kind)
                own[self._number(MET, (run_id, one))] = part
                own[of_kind] = min(own.get(of_kind, 0.0) + part, 1.0)
            found[lot_id] = {mark: part for mark, part in own.items() if part != 0}
        return found

    def _read_notes(self) -> None:
        """Keep bands of settings in order of time, the newest of each check, what was sealed."""
        dried = {lot_id for _, lot_id in self._dried}
        for kind, about, written, key, value, within, at in _notes(self.way.draws, dried):
            if kind == "setting":
                declared = stage(self.way.runs[about].stage)
                field = declared.setting(key) if declared else None
                band = self._bands.of_setting(value, field.unit if field else "")
                self._settings[about][key].append((moment(at), band))
                self._noted.settings[about].append((key, moment(at), value))
            elif kind == "returned":
                self._timed.add(about)
            elif kind == "check":
                self.checks[about, key] = (value, None if within is None else bool(within))
                self._noted.checked(about, key, value, moment(at))
            elif kind == "deviation":
                name, _, lot = key.partition(":")
                self.departures[about].append(Departure(name, lot, json.loads(value)))
            else:
                self._events[about].append((moment(at), written, key))
                self._noted.events[about].append((moment(at), key))
        self._noted.in_order()
        for settings in self._settings.values():
            for changes in settings.values():
                changes.sort(key=lambda change: change[0])

    def candidates(self) -> tuple[Candidate, ...]:
        """Describe every candidate, in order of its number."""
        describe: dict[str, Callable[[Any], Candidate]] = {
            MET: lambda key: Candidate(f"{MET}:{key}", MET, "", ""),
            "origin": self._origin_candidate,
            "lot": self._lot_candidate,
            "run": self._run_candidate,
            "machine": lambda key: Candidate(f"machine:{key}", "machine", "", self._names[key]),
            "heel": lambda key: Candidate(f"heel:{key}", "heel", "", key),
            "open": lambda key: Candidate(f"open:{key}", "open", "", key),
            "limit": lambda key: Candidate(f"limit:{key}", "limit", "", key),
            "setting": _setting_candidate,
            "deviation": lambda key: Candidate(f"deviation:{key}", "deviation", "", key),
        }
        return tuple(describe[kind](key) for kind, key in self._numbers)

    def _lot_candidate(self, lot_id: int) -> Candidate:
        lot = self.way.lots[lot_id]
        made = self.way.runs.get(lot.maker)
        return Candidate(
            f"lot:{lot.code}", "lot", lot.code, lot.form, made.ended_at if made else None
        )

    def _run_candidate(self, run_id: int) -> Candidate:
        run = self.way.runs[run_id]
        return Candidate(
            f"run:{run.code}", "run", run.code, run.stage, run.ended_at or run.started_at
        )

    def _origin_candidate(self, origin_id: int) -> Candidate:
        one = self.way.origins[origin_id]
        return Candidate(f"origin:{one.code}", "origin", one.code, one.name, one.happened_at)


def _setting_candidate(key: tuple[str, str, str]) -> Candidate:
    stage_key, setting, band = key
    declared = stage(stage_key)
    field = declared.setting(setting) if declared else None
    label = field.label if field else setting
    title = declared.title if declared else stage_key
    return Candidate(
        f"setting:{stage_key}:{setting}:{band}", "setting", "", f"{title}, {label}: {band}"
    )


def _notes(run_ids: Iterable[int], lot_ids: Collection[int]) -> Iterator[tuple[Any, ...]]:
    """Read settings, checks and deviations of runs, and what was sealed of lots, as written."""
    lots = list(in_chunks(lot_ids))
    for chunk, beside in zip_longest(in_chunks(run_ids), lots, fillvalue=()):
        statement = _NOTES.format(marks=marks(chunk), lots=marks(beside))
        yield from rows(statement, [*chunk, *chunk, *chunk, *chunk, *beside])
