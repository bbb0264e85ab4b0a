"""All that a workshop entered of how it works, read at once: what many figures rest on."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet, Value
from django.db.models.functions import JSONObject

from recycling.calc.balance.known_masses import Scale as KnownScale
from recycling.models import (
    Container,
    EnergyFactor,
    EnergyMeter,
    EnergyTariff,
    MaterialData,
    Practice,
    ProcessingWindow,
    Scale,
    Workshop,
)
from recycling.queries.setup.practice import practice_over
from recycling.records.setup.first_limits import FIRST_MATERIALS, FIRST_WINDOWS
from recycling.records.setup.machines import FactorRow, MeterRow, TariffRow
from recycling.records.setup.practice import MaterialRow, PracticeRow, WindowRow

_WINDOW = ("material", "kind", "low_c", "high_c", "source")
_MATERIAL = ("polymer", "kind", "values", "source")
_TARIFF = ("price_per_kwh", "currency", "source", "read_date", "valid_from")
_FACTOR = ("value", "unit", "scope", "region", "year", "publisher", "read_date", "valid_from")
_METER = ("machine_id", "step_kwh", "class_percent", "source")
_SCALE = ("name", "accuracy_class", "interval_mg", "capacity_mg")


@dataclass(frozen=True)
class Entered:
    """What holds of it: the newest of each, else the first settings; prices newest first."""

    zone: ZoneInfo
    practice: dict[str, PracticeRow]
    windows: dict[str, WindowRow]
    materials: dict[str, dict[str, MaterialRow]]
    tariffs: tuple[TariffRow, ...]
    factors: tuple[FactorRow, ...]
    meters: dict[int, MeterRow]
    scales: dict[int, KnownScale]
    tares: dict[str, int]


def entered(workshop_id: int) -> Entered:
    """Read all that a workshop entered of how it works, in one query."""
    rows = _rows(workshop_id)
    windows = {one.material: one for one in FIRST_WINDOWS}
    for _, one in rows["window"]:
        windows[one["material"]] = WindowRow(**one, own=True)
    tariffs = [TariffRow(pk, **_dated(one)) for pk, one in rows["tariff"]]
    factors = [FactorRow(pk, **_dated(one)) for pk, one in rows["factor"]]
    return Entered(
        ZoneInfo(rows["workshop"][0][1]["zone"]),
        practice_over((one["key"], one["value"], one["source"]) for _, one in rows["practice"]),
        windows,
        _materials(one for _, one in rows["material"]),
        tuple(sorted(tariffs, key=_newest, reverse=True)),
        tuple(sorted(factors, key=_newest, reverse=True)),
        {one["machine_id"]: MeterRow(**one) for _, one in rows["meter"]},
        {pk: KnownScale(**one) for pk, one in rows["scale"]},
        dict(sorted((one["name"], one["tare_mg"]) for _, one in rows["container"])),
    )


def _materials(said: Iterable[dict[str, Any]]) -> dict[str, dict[str, MaterialRow]]:
    found: dict[str, dict[str, MaterialRow]] = defaultdict(dict)
    for first in FIRST_MATERIALS:
        found[first.kind][first.polymer] = first
    for one in said:
        values = one["values"]
        values = json.loads(values) if isinstance(values, str) else values
        found[one["kind"]][one["polymer"]] = MaterialRow(
            one["polymer"], one["kind"], values, one["source"], own=True
        )
    return found


def _rows(workshop_id: int) -> dict[str, list[tuple[int, dict[str, Any]]]]:
    found: dict[str, list[tuple[int, dict[str, Any]]]] = defaultdict(list)
    first, *others = _parts(workshop_id)
    for kind, pk, one in first.union(*others, all=True):
        found[kind].append((pk, json.loads(one) if isinstance(one, str) else one))
    for listed in found.values():
        listed.sort(key=lambda row: row[0])
    return found


def _parts(workshop_id: int) -> Iterator[QuerySet[Any, Any]]:
    own = {"workshop_id": workshop_id}
    yield _part("workshop", Workshop.objects.filter(pk=workshop_id), "zone")
    yield _part("practice", Practice.objects.filter(**own), "key", "value", "source")
    yield _part("window", ProcessingWindow.objects.filter(**own), *_WINDOW)
    yield _part("material", MaterialData.objects.filter(**own), *_MATERIAL)
    yield _part("tariff", EnergyTariff.objects.filter(**own), *_TARIFF)
    yield _part("factor", EnergyFactor.objects.filter(**own), *_FACTOR)
    meters = EnergyMeter.objects.filter(machine__workshop_id=workshop_id)
    yield _part("meter", meters, *_METER)
    yield _part("scale", Scale.objects.filter(**own), *_SCALE)
    yield _part("container", Container.objects.filter(**own, tare_mg__gt=0), "name", "tare_mg")


def _part(kind: str, rows: QuerySet[Any], *columns: str) -> QuerySet[Any, Any]:
    said = JSONObject(**{column: column for column in columns})
    return rows.order_by().values_list(Value(kind), "pk", said)


def _dated(one: dict[str, Any]) -> dict[str, Any]:
    return {
        name: date.fromisoformat(value) if name in ("read_date", "valid_from") else value
        for name, value in one.items()
    }


def _newest(row: TariffRow | FactorRow) -> tuple[date, int]:
    return row.valid_from, row.id
