"""The runs that lots came through or went into, with all that those runs drew, in plain SQL."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from recycling.ledger.sql import marks, moment, rows

CHUNK = 5_000
Id = TypeVar("Id", int, str)

_FACTS = """
       r.code, r.stage, r.state, r.polymer, r.machine_id, m.name, r.started_at, r.ended_at,
       r.origin_id, o.code, o.kind, s.name, o.supplier, o.happened_at,
       r.composition_model,
       EXISTS (SELECT 1 FROM ledger_entry e WHERE e.process_id = r.account_id AND e.kind = 'draw'),
       d.lot_id, d.mass_mg, l.made_by_id, l.code, l.form, l.polymer, l.origin_id, l.role
"""
_BESIDE = """
  JOIN recycling_run r ON r.account_id = way.run_id
  LEFT JOIN recycling_machine m ON m.id = r.machine_id
  LEFT JOIN recycling_origin o ON o.id = r.origin_id
  LEFT JOIN recycling_source s ON s.id = o.source_id
  LEFT JOIN recycling_draw d ON d.run_id = way.run_id AND d.mass_mg > 0
  LEFT JOIN recycling_lot l ON l.account_id = d.lot_id
"""
_UP = """
WITH RECURSIVE way(run_id) AS (
  SELECT made_by_id FROM recycling_lot WHERE account_id IN ({marks})
  UNION
  SELECT l.made_by_id FROM way
    JOIN recycling_draw d ON d.run_id = way.run_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.account_id = d.lot_id
)
"""
_DOWN = """
WITH RECURSIVE way(run_id) AS (
  SELECT run_id FROM recycling_draw WHERE lot_id IN ({marks}) AND mass_mg > 0
  UNION
  SELECT d.run_id FROM way
    JOIN recycling_lot l ON l.made_by_id = way.run_id
    JOIN recycling_draw d ON d.lot_id = l.account_id AND d.mass_mg > 0
)
"""
_WHOLE = f"{{runs}} SELECT way.run_id, {_FACTS} FROM way {_BESIDE}"


@dataclass(frozen=True, slots=True)
class WayLot:
    """A lot that was drawn from on the way."""

    code: str
    form: str
    polymer: str
    maker: int
    origin_id: int | None
    role: str


@dataclass(frozen=True, slots=True)
class WayRun:
    """A run on the way; one that went on drew while it did."""

    code: str
    stage: str
    state: str
    polymer: str
    machine_id: int | None
    machine: str
    started_at: datetime
    ended_at: datetime | None
    model: str
    went_on: bool = False


@dataclass(frozen=True, slots=True)
class WayOrigin:
    """What came in at the head of the way."""

    code: str
    name: str
    happened_at: datetime


@dataclass
class Way:
    """Runs by id, what each drew as (lot id, mass in mg), the lots drawn, and their origins."""

    runs: dict[int, WayRun] = field(default_factory=dict)
    draws: dict[int, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    lots: dict[int, WayLot] = field(default_factory=dict)
    origins: dict[int, WayOrigin] = field(default_factory=dict)

    def above(self, run_id: int) -> Way:
        """Give the part of a way up that led into one run."""
        found, waiting = Way(), [run_id]
        while waiting:
            at = waiting.pop()
            if at in found.runs:
                continue
            found.runs[at], found.draws[at] = self.runs[at], self.draws[at]
            for lot_id, _ in self.draws[at]:
                found.lots[lot_id] = self.lots[lot_id]
                waiting.append(self.lots[lot_id].maker)
        return found


def way_up(lot_ids: Iterable[int]) -> Way:
    """Fetch every run that these lots came through, and what each drew."""
    return _way(_UP, lot_ids)


def way_down(lot_ids: Iterable[int]) -> Way:
    """Fetch every run that these lots went into, now and further on, and all that each drew."""
    return _way(_DOWN, lot_ids)


def in_chunks(ids: Iterable[Id]) -> Iterator[Sequence[Id]]:
    """Cut a long list of ids or codes so that each piece fits into one statement."""
    listed = list(ids)
    for start in range(0, len(listed), CHUNK):
        yield listed[start : start + CHUNK]


def _way(runs: str, lot_ids: Iterable[int]) -> Way:
    way = Way()
    for chunk in in_chunks(lot_ids):
        new: set[int] = set()
        for run_id, *facts in rows(_WHOLE.format(runs=runs.format(marks=marks(chunk))), chunk):
            if run_id not in way.runs:
                new.add(run_id)
                way.draws[run_id] = []
                _add_run(way, run_id, facts[:16])
            if run_id in new and facts[16] is not None:
                _add_draw(way, run_id, *facts[16:])
    return way


def _add_run(way: Way, run_id: int, facts: Sequence[Any]) -> None:
    """Keep a run, and with one that took an origin in, that origin."""
    code, stage, state, polymer, machine_id, machine, began, ended = facts[:8]
    times = moment(began), moment(ended) if ended else None
    origin_id, origin, kind, source, supplier, at, model, went_on = facts[8:]
    run = code, stage, state, polymer, machine_id, machine or ""
    way.runs[run_id] = WayRun(*run, *times, model, bool(went_on))
    if origin_id is not None:
        way.origins[origin_id] = WayOrigin(origin, source or supplier or kind, moment(at))


def _add_draw(way: Way, run_id: int, lot_id: int, mass_mg: int, *facts: Any) -> None:
    maker, code, form, polymer, origin_id, role = facts
    way.draws[run_id].append((lot_id, mass_mg))
    if lot_id not in way.lots:
        way.lots[lot_id] = WayLot(code, form, polymer, maker, origin_id, role)
