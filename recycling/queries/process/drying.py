"""How a lot was dried: time at temperature, time open, estimates of moisture and viscosity."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from recycling.calc.process import drying
from recycling.ledger.models import LOT, Posting
from recycling.models import Lot, Run
from recycling.queries.setup.practice import material_rows, practice_value
from recycling.records.process.drying import DryingRow, OpenRow
from recycling.records.setup.practice import MaterialRow

Pieces = list[tuple[float, float]]
HOUR = timedelta(hours=1)
ESTIMATED = "start_percent", "balance_percent", "thickness_mm"


def drying_of(workshop_id: int, lot: Lot) -> DryingRow:
    """Hold a dried lot's run against the recipe, and estimate what the log does not say."""
    run = lot.made_by
    recipe = material_rows(workshop_id, "drying").get(lot.polymer)
    notes = dict(run.checks.order_by("pk").values_list("key", "value"))
    pieces, source = _log(run, notes, recipe)
    check = None
    if recipe is not None and pieces:
        window = drying.Recipe(**recipe.values)
        check = drying.drying_check(pieces, window)
    row = DryingRow(
        run=run.code,
        polymer=lot.polymer,
        recipe=_said(recipe),
        recipe_source=recipe.source if recipe else "",
        temperature_source=source,
        at_temperature_h=check.at_temperature_h if check else None,
        missing_h=check.missing_h if check else None,
        too_hot_h=check.too_hot_h if check else None,
        dry_enough=check.dry_enough if check else None,
        open=_open(lot, run, notes, practice_value(workshop_id, "open_limit_h")),
        moisture_percent=None,
        moisture_measured=False,
        viscosity_loss=None,
        viscosity_before=None,
        estimate_source="",
    )
    data = material_rows(workshop_id, "hydrolysis").get(lot.polymer)
    return _estimated(row, pieces, notes, data)


def _said(recipe: MaterialRow | None) -> str:
    if recipe is None:
        return ""
    one = recipe.values
    return f"{one['time_h']:g} h at {one['least_c']:g} to {one['most_c']:g} °C"


def _log(run: Run, notes: dict[str, str], recipe: MaterialRow | None) -> tuple[Pieces, str]:
    """Read a run's temperatures as pieces of time: real ones, else those set, else as typed."""
    end = run.ended_at or timezone.now()
    for key, source in (("real_c", "real"), ("set_c", "set")):
        rows = list(
            run.settings_log.filter(key=key, happened_at__lt=end)
            .order_by("happened_at", "pk")
            .values_list("happened_at", "value")
        )
        if rows:
            ends = [moment for moment, _ in rows[1:]] + [end]
            return [
                (max(0.0, (until - moment) / HOUR), _number(value))
                for (moment, value), until in zip(rows, ends, strict=True)
            ], source
    if "hours_at_temperature" in notes and recipe is not None:
        return [(_number(notes["hours_at_temperature"]), recipe.values["least_c"])], "typed"
    return [], ""


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _open(lot: Lot, run: Run, notes: dict[str, str], limit_h: float) -> tuple[OpenRow, ...]:
    if run.ended_at is None:
        return ()
    changes = list(
        lot.events.filter(kind__in=("sealed", "opened"))
        .order_by("happened_at", "pk")
        .values_list("happened_at", "kind")
    )
    sealed = notes.get("kept") == "sealed"
    fed = Posting.objects.filter(
        account_id=lot.pk, account__kind=LOT, mass_mg__lt=0, corrects=None
    ).order_by("entry__happened_at")
    times: list[tuple[str, datetime]] = list(
        fed.values_list("entry__process__run__code", "entry__happened_at")
    )
    if lot.account.balance_mg:
        times.append(("", timezone.now()))
    found = []
    for code, until in times:
        stretches = stretches_open(run.ended_at, until, changes, sealed)
        check = drying.open_check(stretches, limit_h)
        found.append(OpenRow(code, until, check.open_h, limit_h, check.within))
    return tuple(found)


def stretches_open(
    start: datetime, until: datetime, changes: Iterable[tuple[datetime, str]], sealed: bool
) -> list[float]:
    """Give each stretch of time that a lot was not sealed, h."""
    found, since = [], None if sealed else start
    for moment, kind in changes:
        moment = max(moment, start)
        if moment >= until:
            break
        if kind == "sealed" and since is not None:
            found.append((moment - since) / HOUR)
            since = None
        elif kind == "opened" and since is None:
            since = moment
    if since is not None and until > since:
        found.append((until - since) / HOUR)
    return found


def _estimated(
    row: DryingRow, pieces: Pieces, notes: dict[str, str], data: MaterialRow | None
) -> DryingRow:
    """Add the moisture that is left and what it can cost in the melt."""
    measured = notes.get("moisture_after_percent")
    moisture = _number(measured) / 100 if measured else _moisture(row, pieces, notes, data)
    if moisture is None:
        return row
    more: dict[str, Any] = {
        "moisture_percent": 100 * moisture,
        "moisture_measured": measured is not None,
    }
    if data is not None and moisture < 1:
        one = data.values
        more["viscosity_before"] = one["viscosity_dl_per_g"]
        more["viscosity_loss"] = drying.viscosity_loss_at_most(
            one["viscosity_dl_per_g"], moisture, one["houwink_k"], one["houwink_a"]
        )
        more["estimate_source"] = data.source
    return replace(row, **more)


def _moisture(
    row: DryingRow, pieces: Pieces, notes: dict[str, str], data: MaterialRow | None
) -> float | None:
    warm = [(hours, celsius) for hours, celsius in pieces if hours > 0]
    if data is None or not warm or row.temperature_source == "":
        return None
    one = data.values
    total_h = sum(hours for hours, _ in warm)
    mean_c = sum(hours * celsius for hours, celsius in warm) / total_h
    before = notes.get("moisture_before_percent")
    start = _number(before) / 100 if before else one["start_percent"] / 100
    balance = min(one["balance_percent"] / 100, start)
    diffusivity = drying.diffusivity_m2_per_s(
        mean_c, one["factor_m2_per_s"], one["activation_kj_per_mol"]
    )
    if start >= 1:
        return None
    return drying.remaining_moisture(start, balance, one["thickness_mm"], diffusivity, total_h)
