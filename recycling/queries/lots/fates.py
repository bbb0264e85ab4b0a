"""What became of every gram of a collection."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.db.models import Sum

from recycling.calc.lots.fates import Holding, Passing, fate
from recycling.ledger.models import BORDER, PROCESS, Posting
from recycling.models import Composition, Draw, Run
from recycling.records.lots.origins import FateLine
from recycling.stages.declaration import (
    DISCARDED,
    DISPATCHED,
    LOSSES,
    SIDE,
    UNACCOUNTED,
    WASTE,
)

PLACES = (
    "in spools",
    "in stock",
    "in side streams",
    "in process",
    "waste",
    DISPATCHED,
    DISCARDED,
    *LOSSES,
    UNACCOUNTED,
    "traces",
)


def fate_of(origin_id: int) -> tuple[FateLine, ...]:
    """Say where an origin's mass is now; the lines add up to what came in, exactly."""
    held = _held(origin_id)
    received_mg = sum(row["part"] for row in held if row["lot__origin_id"] == origin_id)
    drawn: dict[int, int] = defaultdict(int)
    draws = list(
        Draw.objects.filter(lot__composition__origin_id=origin_id, mass_mg__gt=0).values_list(
            "lot_id", "run_id", "mass_mg"
        )
    )
    for lot_id, _, mass_mg in draws:
        drawn[lot_id] += mass_mg
    shares = {row["lot_id"]: row["part"] / (row["lot__made_mg"] or 1) for row in held}
    holdings = [
        Holding(
            _place(row),
            row["part"],
            row["lot__made_mg"],
            row["lot__account__balance_mg"],
            drawn[row["lot_id"]],
        )
        for row in held
    ]
    lines = fate(received_mg, holdings, _passings(draws, shares))
    details = _details(held)
    return tuple(
        FateLine(place, lines[place], lines[place] / (received_mg or 1), details.get(place, ""))
        for place in PLACES
        if place in lines
    )


def _held(origin_id: int) -> list[dict[str, Any]]:
    rows = Composition.objects.filter(origin_id=origin_id).values(
        "lot_id",
        "lot__made_mg",
        "lot__account__balance_mg",
        "lot__role",
        "lot__form",
        "lot__spool__lot_id",
        "lot__origin_id",
        part=Sum("mass_mg"),
    )
    return [dict(row) for row in rows.order_by("lot_id")]


def _place(row: dict[str, Any]) -> str:
    if row["lot__spool__lot_id"]:
        return "in spools"
    return {SIDE: "in side streams", WASTE: "waste"}.get(row["lot__role"], "in stock")


def _details(held: list[dict[str, Any]]) -> dict[str, str]:
    forms: dict[str, list[str]] = defaultdict(list)
    for row in held:
        place = _place(row)
        if row["lot__account__balance_mg"] and row["lot__form"] not in forms[place]:
            forms[place].append(row["lot__form"])
    return {place: ", ".join(names) for place, names in forms.items() if place != "in spools"}


def _passings(draws: list[tuple[int, int, int]], shares: dict[int, float]) -> list[Passing]:
    fed: dict[int, float] = defaultdict(float)
    for lot_id, run_id, mass_mg in draws:
        fed[run_id] += mass_mg * shares[lot_id]
    totals = dict(
        Draw.objects.filter(run_id__in=fed).values_list("run_id").annotate(Sum("mass_mg"))
    )
    left: dict[int, dict[str, int]] = defaultdict(dict)
    rows = (
        Posting.objects.filter(entry__process_id__in=fed, account__kind__in=[BORDER, PROCESS])
        .exclude(entry__process__run__state=Run.VOID)
        .values_list("entry__process_id", "account__name", "account__kind")
        .annotate(Sum("mass_mg"))
    )
    for run_id, name, kind, mass_mg in rows:
        left[run_id][name if kind == BORDER else "in process"] = mass_mg
    return [Passing(fed[run_id], totals[run_id], left[run_id]) for run_id in fed]
