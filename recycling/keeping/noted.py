"""What is noted and set during a run: it must be what the stage's declaration asks for."""

from __future__ import annotations

import math
from collections.abc import Sequence

from recycling.keeping.texts import check_text
from recycling.records.runs.entries import CheckEntry, SettingEntry
from recycling.stages.declaration import Stage
from recycling.stages.fields import Field
from shared.errors import Collected
from shared.said import say


def check_value(field: Field | None, value: str, pointer: str, found: Collected) -> bool | None:
    """Note a problem of one noted value; return whether it is within its limit, if it has one."""
    if field is None:
        found.add("field-unknown", "This stage notes no such thing.", f"{pointer}/key")
        return None
    check_text(value, f"{pointer}/value", found, 120)
    if not value.strip():
        found.add(
            "value-missing",
            say("{field}: nothing was given.", field=field.label),
            f"{pointer}/value",
        )
        return None
    if field.kind == "choice" and value not in field.choices:
        found.add(
            "choice-wrong",
            say("{field}: one of {choices}.", field=field.label, choices=", ".join(field.choices)),
            f"{pointer}/value",
        )
    if field.kind != "number":
        return None
    number = _number(value)
    low = -math.inf if field.minimum is None else field.minimum
    high = math.inf if field.maximum is None else field.maximum
    if number is None or not low <= number <= high:
        found.add(
            "number-out-of-bounds",
            say(
                "{field}: a number from {low:g} to {high:g}{unit}.",
                field=field.label,
                low=low,
                high=high,
                unit=f" {field.unit}" if field.unit else "",
            ),
            f"{pointer}/value",
        )
        return None
    return None if field.limit is None else number <= field.limit


def _number(text: str) -> float | None:
    if not text.isascii() or "_" in text or len(text) > 30:
        return None
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def check_log(
    stage: Stage,
    checks: tuple[CheckEntry, ...],
    settings: tuple[SettingEntry, ...],
    found: Collected,
) -> list[bool | None]:
    """Note problems of checks and settings; return for each check whether it is within limits."""
    for place, setting in enumerate(settings):
        pointer = f"/settings/{place}"
        check_value(stage.setting(setting.key), setting.value, pointer, found)
        check_text(setting.seen, f"{pointer}/seen", found, 300)
    return [
        check_value(stage.check(check.key), check.value, f"/checks/{place}", found)
        for place, check in enumerate(checks)
    ]


def above_limits(
    stage: Stage, checks: Sequence[CheckEntry], within: Sequence[bool | None]
) -> tuple[str, ...]:
    """Say which checks are above their limit, and what to do with the material."""
    noted = [(stage.check(one.key), one.value.strip()) for one in checks]
    return tuple(
        say(
            "{check}: {value} {unit} is above the limit of {limit:g} {unit}: {remedy}.",
            check=say(field.label),
            value=value,
            unit=field.unit,
            limit=field.limit,
            remedy=say(field.remedy),
        )
        for (field, value), fits in zip(noted, within, strict=True)
        if field and fits is False
    )


def check_required(stage: Stage, noted: set[str], found: Collected) -> None:
    """Note a problem for each check without which a run of this stage is not complete."""
    for field in stage.checks:
        if field.required and field.key not in noted:
            found.add(
                "value-missing",
                say("{field} is needed.", field=field.label),
                f"/checks/{field.key}",
            )
