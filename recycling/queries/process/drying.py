"""How a lot was dried: time at temperature, time open, estimates of moisture and viscosity."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from recycling.calc.process import drying
from recycling.ledger.models import LOT, Posting
from recycling.models import Lot, Run
from recycling.queries.process.drying_facts import Drying, bound_after, takes_up_water
from recycling.queries.setup.parameters import Entered, entered
from recycling.records.process.drying import DryingRow, OpenRow
from recycling.records.setup.practice import MaterialRow


def drying_of(workshop_id: int, lot: Lot) -> DryingRow:
    """Hold a dried lot's run against the recipe, and estimate what the log does not say."""
    run, rules = lot.made_by, entered(workshop_id)
    recipe = rules.materials["drying"].get(lot.polymer)
    told = _drying(lot, run)
    _, source = told.log(recipe)
    check = told.check(recipe)
    data = rules.materials["hydrolysis"].get(lot.polymer)
    left = told.moisture(data, recipe)
    limits = rules.materials["limits"].get(lot.polymer)
    wants_dry = takes_up_water(limits)
    opened = _open(lot, run, told, rules, left) if wants_dry is not False else ()
    bounds = [one.moisture_percent for one in opened if one.moisture_percent is not None]
    worst = max(bounds, default=None if left is None else 100 * left)
    return DryingRow(
        run=run.code,
        polymer=lot.polymer,
        recipe=_said(recipe),
        recipe_source=recipe.source if recipe else "",
        temperature_source=source,
        at_temperature_h=check.at_temperature_h if check else None,
        missing_h=check.missing_h if check else None,
        too_hot_h=check.too_hot_h if check else None,
        dry_enough=check.dry_enough if check else None,
        open=opened,
        moisture_percent=None if left is None else 100 * left,
        moisture_measured="moisture_after_percent" in told.notes,
        viscosity_loss=_loss(worst, data),
        viscosity_before=data.values["viscosity_dl_per_g"] if data and worst is not None else None,
        estimate_source=data.source if data and worst is not None else "",
        takes_up_water=wants_dry,
        limit_percent=limits.values.get("moisture_percent") if limits and wants_dry else None,
        room=_room(rules),
    )


def _said(recipe: MaterialRow | None) -> str:
    if recipe is None:
        return ""
    one = recipe.values
    return f"{one['time_h']:g} h at {one['least_c']:g} to {one['most_c']:g} °C"


def _drying(lot: Lot, run: Run) -> Drying:
    settings = run.settings_log.order_by("happened_at", "pk")
    return Drying(
        lot.polymer,
        run.ended_at or timezone.now(),
        dict(run.checks.order_by("pk").values_list("key", "value")),
        list(settings.values_list("key", "happened_at", "value")),
    )


def _room(rules: Entered) -> str:
    """Say of which room air the bounds are."""
    celsius, humidity = rules.practice["room_c"].value, rules.practice["humidity_percent"].value
    return f"{celsius:g} °C, {humidity:g} %"


def _loss(moisture_percent: float | None, data: MaterialRow | None) -> float | None:
    """Give the most viscosity that so much water can cost in the melt, dL/g."""
    if data is None or moisture_percent is None or moisture_percent >= 100:
        return None
    one = data.values
    return drying.viscosity_loss_at_most(
        one["viscosity_dl_per_g"], moisture_percent / 100, one["houwink_k"], one["houwink_a"]
    )


def _open(
    lot: Lot, run: Run, told: Drying, rules: Entered, left: float | None
) -> tuple[OpenRow, ...]:
    if run.ended_at is None:
        return ()
    limit_h = rules.practice["open_limit_h"].value
    regain = rules.materials["regain"].get(lot.polymer)
    data = rules.materials["hydrolysis"].get(lot.polymer)
    limits = rules.materials["limits"].get(lot.polymer)
    most = limits.values.get("moisture_percent") if limits else None
    changes = list(
        lot.events.filter(kind__in=("sealed", "opened"))
        .order_by("happened_at", "pk")
        .values_list("happened_at", "kind")
    )
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
        check = drying.open_check([told.open_h(until, changes)], limit_h)
        bound = bound_after(left, check.open_h, regain, rules.practice)
        percent = None if bound is None else 100 * bound
        dry = None if percent is None or most is None else percent <= most
        found.append(
            OpenRow(
                code, until, check.open_h, limit_h, check.within, percent, _loss(percent, data), dry
            )
        )
    return tuple(found)
