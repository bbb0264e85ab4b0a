"""What is said of a file that was looked through."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from decimal import Decimal

from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from recycling.calc.energy.intervals import EPOCH
from recycling.records.energy.machines import EnergyFileRow
from recycling.web.energy.words import file_kind_said
from recycling.web.templatetags.ledger import percent


def moment(at_us: int) -> datetime:
    return EPOCH + timedelta(microseconds=at_us)


def when(at_us: int) -> str:
    return date_format(timezone.localtime(moment(at_us)), "SHORT_DATETIME_FORMAT")


def figure(value: float, places: int = 3) -> str:
    """Write a number by locale; rounded here, for Django's own format cuts off."""
    exact = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places))
    return number_format(exact + 0, decimal_pos=places, use_l10n=True, force_grouping=True)


def places_of(half: float) -> int:
    """Give the decimals of the second digit of what stands behind ±."""
    return max(0, min(6, 1 - math.floor(math.log10(half))))


def sure(value: float | None, half: float | None, places: int = 3) -> str:
    """Write a number ± what covers 95 % of the truths, both to the second digit of that."""
    if value is None:
        return "–"
    if not half:
        return figure(value, places)
    places = places_of(half)
    return f"{figure(value, places)} ± {figure(half, places)}"


def hours(seconds: float) -> str:
    return f"{figure(seconds / 3600, 2)} h"


def preview_facts(row: EnergyFileRow) -> list[tuple[str, str]]:
    """Say what is in a file, in facts."""
    seen = row.preview
    facts = [
        (_("Holds"), file_kind_said(seen["kind"])),
        (_("Value"), f"{seen['value_column']} × {seen['factor']:g}"),
        (_("Time"), " + ".join(seen["time_columns"]) + f", {seen['time_shape']}"),
        (_("Rows"), figure(seen["rows"], 0)),
    ]
    if seen["first_us"] is not None and seen["last_us"] is not None:
        facts.append((_("From"), when(seen["first_us"])))
        facts.append((_("Until"), when(seen["last_us"])))
        span_s = (seen["last_us"] - seen["first_us"]) / 1e6
        share = f" ({percent(min(1.0, seen['covered_s'] / span_s))})" if span_s else ""
        facts.append((_("Covered"), hours(seen["covered_s"]) + share))
    facts.append((_("Energy"), f"{figure(seen['kwh'])} kWh"))
    for name, label in (
        ("duplicates", _("Rows twice, dropped")),
        ("conflict_count", _("Times twice with another value, the first kept")),
        ("missing", _("Rows without a value, passed over")),
        ("gap_count", _("Gaps")),
    ):
        if seen[name]:
            facts.append((label, figure(seen[name], 0)))
    return facts


def preview_gaps(row: EnergyFileRow) -> list[tuple[str, str, str]]:
    """List the gaps of a file: from, until, how long."""
    return [
        (when(gap["start_us"]), when(gap["end_us"]), hours((gap["end_us"] - gap["start_us"]) / 1e6))
        for gap in row.preview["gaps"]
    ]
