"""What went through a run, was checked, set and fed during it, and who worked on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import BooleanField, Case, DateTimeField, QuerySet, UUIDField, Value, When

from recycling.models import Run
from recycling.queries.people.names import name_behind, named
from recycling.records.runs.runs import Fed, Noted, RunInput, RunOutput
from recycling.stages import stage
from recycling.stages.fields import Field

WHO, DRAWN, MADE, CHECKED, SET, FED = "who", "drawn", "made", "check", "set", "fed"


@dataclass(frozen=True)
class Log:
    """What went in and came out, what was checked, set and fed in the order it happened, by whom.

    `operators` are the names of who worked, in order.
    """

    inputs: tuple[RunInput, ...]
    outputs: tuple[RunOutput, ...]
    checks: tuple[Noted, ...]
    settings: tuple[Noted, ...]
    feeds: tuple[Fed, ...]
    operators: tuple[str, ...]


def log_of(run: Run) -> Log:
    """Read the lots and the log of a run in one query."""
    first, *others = (part.order_by() for part in _parts(run))
    found: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    for kind, *row in first.union(*others, all=True):
        found[kind].append(tuple(row))
    for listed in found.values():
        listed.sort(key=_when)
    return Log(
        tuple(RunInput(*(*row[2:5], row[8])) for row in found[DRAWN]),
        tuple(
            RunOutput(*(*row[2:5], row[6], row[9], row[8], row[10], bool(row[5])))
            for row in found[MADE]
        ),
        _noted_in(run, found[CHECKED]),
        _noted_in(run, found[SET]),
        tuple(Fed(row[2], row[8], row[0], row[1]) for row in found[FED]),
        tuple(sorted(row[2] for row in found[WHO])),
    )


def _parts(run: Run) -> Iterator[QuerySet[Any, Any]]:
    """Give what is read of a run, each part with its kind, when, number, and nine more columns."""
    empty, nothing = Value(""), Value(0)
    never, none = (
        Value(None, output_field=DateTimeField()),
        Value(None, output_field=BooleanField()),
    )
    nobody = Value(None, output_field=UUIDField())
    by, less = name_behind("actor"), (nothing, empty, nothing)
    yield run.checks.annotate(by=by).values_list(
        *(Value(CHECKED), "happened_at", "pk", "key", "value", empty, "within", "by", "actor"),
        *less,
    )
    yield run.settings_log.annotate(by=by).values_list(
        *(Value(SET), "happened_at", "pk", "key", "value", "seen", none, "by", "actor"),
        *less,
    )
    more = (none, empty, nobody, "mass_mg", empty, nothing)
    yield run.feeds.values_list(
        *(Value(FED), "happened_at", "pk", "lot__code", empty, empty), *more
    )
    yield run.operators.values_list(
        *(Value(WHO), never, "pk", "name", empty, empty, none, empty, nobody), *less
    )
    yield run.draws.filter(mass_mg__gt=0).values_list(
        *(Value(DRAWN), never, "pk", "lot__code", "lot__form", "lot__polymer"), *more
    )
    spool = Case(When(spool__isnull=False, then=Value(True)), default=Value(False))
    yield run.outputs.annotate(is_spool=spool).values_list(
        *(Value(MADE), never, "number", "code", "form", "polymer", "is_spool", "colour", nobody),
        *("made_mg", "role", "account__balance_mg"),
    )


def _when(row: tuple[Any, ...]) -> tuple[float, int]:
    return row[0].timestamp() if row[0] else 0.0, row[1]


def _noted_in(run: Run, rows: list[tuple[Any, ...]]) -> tuple[Noted, ...]:
    return tuple(
        _noted(run.stage, key, value, seen, named(name, actor), within, at, noted)
        for at, noted, key, value, seen, within, name, actor, *_ in rows
    )


def _noted(
    stage_key: str,
    key: str,
    value: str,
    seen: str,
    by: str,
    within: bool | None,
    at: datetime,
    noted: int,
) -> Noted:
    declared = stage(stage_key)
    field = (declared.check(key) or declared.setting(key)) if declared else None
    field = field or Field(key, key)
    return Noted(key, field.label, value, field.unit, seen, by, within, at, noted)
