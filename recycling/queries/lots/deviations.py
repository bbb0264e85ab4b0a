"""What runs did otherwise than usual: worked out afresh, and read as kept."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from recycling.ledger.sql import marks, rows
from recycling.models import Lot, RunDeviation
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.setup.practice import needs_drying_by
from recycling.records.lots.deviations import DeviationRow
from recycling.stages import STAGES, Keys, stage
from recycling.stages.declaration import (
    ANOTHER_POLYMER,
    FED_BESIDES,
    MIXED,
    RETURNED,
    Stage,
)
from recycling.stages.deviations import Departure, DrawnLot, departures

DRIED_FORM = "dried flake"
OUT_OF_MELTS = frozenset(output.form for one in STAGES if one.keeps_heel for output in one.gives)
SORTING = Keys(lambda one: any(output.polymer == ANOTHER_POLYMER for output in one.gives))

_DRAWN = """
SELECT r.account_id, r.stage, r.polymer, l.account_id, l.code, l.form, l.polymer, l.role,
       l.made_by_id
  FROM {runs} JOIN recycling_run r ON r.account_id = up.run_id
  LEFT JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
  LEFT JOIN recycling_lot l ON l.account_id = d.lot_id
 ORDER BY d.id
"""
_THESE = "(SELECT account_id AS run_id FROM recycling_run WHERE account_id IN ({marks})) up"
_ABOVE = f"""
WITH RECURSIVE up(run_id) AS (
  SELECT account_id FROM recycling_run WHERE account_id IN ({{marks}})
  UNION
  SELECT l.made_by_id FROM up
    JOIN recycling_draw d ON d.run_id = up.run_id AND d.mass_mg > 0
    JOIN recycling_lot l ON l.account_id = d.lot_id
     AND l.form NOT IN ({", ".join(f"'{form}'" for form in sorted(FED_BESIDES))})
)
"""


_KEPT = """
SELECT v.key, l.code, v."values", r.code, r.stage
  FROM recycling_rundeviation v JOIN recycling_run r ON r.account_id = v.run_id
  LEFT JOIN recycling_lot l ON l.account_id = v.lot_id
"""
_LATEST = "ORDER BY r.number DESC, v.id"


@dataclass(frozen=True, slots=True)
class _Lot:
    lot_id: int
    code: str
    form: str
    polymer: str
    role: str
    maker: int


@dataclass
class _Book:
    """Runs by id with their stage and polymer, and what each drew."""

    runs: dict[int, tuple[str, str]] = field(default_factory=dict)
    drawn: dict[int, dict[int, _Lot]] = field(default_factory=lambda: defaultdict(dict))

    def read(self, statement: str, run_ids: Iterable[int]) -> _Book:
        for chunk in in_chunks(run_ids):
            for run_id, key, polymer, lot_id, *lot in rows(
                statement.format(marks=marks(chunk)), chunk
            ):
                self.runs[run_id] = (key, polymer)
                if lot_id is not None:
                    self.drawn[run_id][lot_id] = _Lot(lot_id, *lot)
        return self

    def stage_of(self, run_id: int) -> Stage | None:
        return stage(self.runs[run_id][0]) if run_id in self.runs else None

    def worked(self, run_id: int) -> list[_Lot]:
        """What a run drew to work on: purge and heel left out."""
        declared = self.stage_of(run_id)
        return [
            one
            for one in self.drawn[run_id].values()
            if declared is None or not declared.fed_besides(one.form)
        ]


def fresh_deviations(workshop_id: int, run_ids: Iterable[int]) -> dict[int, list[Departure]]:
    """Work out what deviated in runs, from what is kept of them and of what they drew."""
    wanted = list(run_ids)
    book = _Book().read(_DRAWN.format(runs=_THESE), wanted)
    melts = [one for one in wanted if (at := book.stage_of(one)) and at.melts]
    if melts:
        book.read(_ABOVE + _DRAWN.format(runs="up"), melts)
    same = _same(book, wanted)
    needs = _needs(workshop_id, book)
    dried, melted = _dried(book), _melted(book)
    found: dict[int, list[Departure]] = {}
    for run_id in wanted:
        declared = book.stage_of(run_id)
        if declared is None:
            continue
        drawn = [
            DrawnLot(
                one.code,
                one.form,
                one.polymer,
                needs(one) if declared.melts or not _plain(declared, one) else None,
                dried(one) if declared.melts else None,
                melted(one) if declared.melts else 0,
            )
            for one in book.drawn[run_id].values()
        ]
        found[run_id] = list(departures(declared, drawn, same[run_id]))
    return found


def _plain(declared: Stage, one: _Lot) -> bool:
    """Whether a form is usual here, whatever the polymer: then nothing is asked of that."""
    return declared.usually_takes(one.form, True) and not declared.asks_polymer(one.form)


def _same(book: _Book, run_ids: list[int]) -> dict[int, list[str]]:
    """List side streams of the run's own polymer, where they usually are of another one."""
    found: dict[int, list[str]] = defaultdict(list)
    sorting = [one for one in run_ids if one in book.runs and book.runs[one][0] in SORTING]
    for chunk in in_chunks(sorting):
        given = Lot.objects.filter(made_by_id__in=chunk, made_mg__gt=0).order_by("pk")
        for run_id, form, polymer in given.values_list("made_by_id", "form", "polymer"):
            key, own = book.runs[run_id]
            declared = stage(key)
            output = declared.output(form) if declared else None
            if output and output.polymer == ANOTHER_POLYMER and polymer == own:
                found[run_id].append(form)
    return found


def _needs(workshop_id: int, book: _Book) -> Callable[[_Lot], bool | None]:
    """Say of a lot whether it must be dry to melt; of mixed polymers, whether one of them must."""

    @cache
    def by() -> Callable[[str], bool | None]:
        return needs_drying_by(workshop_id)

    @cache
    def of(one: _Lot) -> bool | None:
        if one.polymer != MIXED:
            return by()(one.polymer)
        parts = {of(part) for part in book.worked(one.maker)}
        return True if True in parts else None if None in parts or not parts else False

    return of


def _dried(book: _Book) -> Callable[[_Lot], bool | None]:
    @cache
    def of(one: _Lot) -> bool | None:
        """Say whether a lot was dried and neither wet nor melted since."""
        made = book.stage_of(one.maker)
        if made is None or not made.works:
            return one.form == DRIED_FORM
        if one.role != RETURNED and made.dries:
            return True
        if one.role != RETURNED and (made.melts or made.wets):
            return False
        parts = [of(part) for part in book.worked(one.maker)]
        return False if False in parts else None if None in parts or not parts else True

    return of


def _melted(book: _Book) -> Callable[[_Lot], int]:
    @cache
    def of(one: _Lot) -> int:
        """Count how often some of a lot was melted."""
        made = book.stage_of(one.maker)
        if made is None or not made.works:
            return int(one.form in OUT_OF_MELTS)
        before = max((of(part) for part in book.worked(one.maker)), default=0)
        return before + int(made.melts and one.role != RETURNED)

    return of


def kept_departures(run_ids: Iterable[int]) -> dict[int, list[Departure]]:
    """Read what is kept of runs, as it was worked out."""
    found: dict[int, list[Departure]] = defaultdict(list)
    for chunk in in_chunks(run_ids):
        kept = RunDeviation.objects.filter(run_id__in=chunk).order_by("pk")
        for run_id, key, lot, values in kept.values_list("run_id", "key", "lot__code", "values"):
            found[run_id].append(Departure(key, lot or "", values))
    return found


def deviations_of(run_ids: Iterable[int]) -> tuple[DeviationRow, ...]:
    """Read what is kept of runs, the latest run first."""
    found: list[DeviationRow] = []
    for chunk in in_chunks(run_ids):
        found += map(_row, rows(f"{_KEPT} WHERE v.run_id IN ({marks(chunk)}) {_LATEST}", chunk))
    return tuple(found)


def deviations_behind(run_id: int) -> tuple[DeviationRow, ...]:
    """Read what is kept of a run and of all that its material went through, the latest first."""
    statement = f"{_ABOVE.format(marks='%s')} {_KEPT} JOIN up ON up.run_id = v.run_id {_LATEST}"
    return tuple(map(_row, rows(statement, [run_id])))


def _row(kept: tuple[Any, ...]) -> DeviationRow:
    key, lot, values, run, stage_key = kept
    values = json.loads(values) if isinstance(values, str) else values
    return DeviationRow(key, Departure(key, lot or "", values).said, run, stage_key, lot or "")
