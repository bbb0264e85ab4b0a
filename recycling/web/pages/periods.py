"""Periods that are asked for on a page: days in the workshop's zone, both of them inside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from recycling.web.pages.read import Filter, address_with

DAY = timedelta(days=1)
FIRST_DAY = date(1990, 1, 1)
LAST_DAY = date(2200, 1, 1)


@dataclass(frozen=True)
class Preset:
    """A period that is asked for often."""

    key: str
    label: str
    first: date
    last: date


@dataclass(frozen=True)
class Period:
    """From the first day to the last, both inside.

    Attributes
    ----------
    first, last : date
        Its days in the workshop's zone.
    start, end : datetime
        The same as moments: from `start` up to but not at `end`.
    typed_first, typed_last : str
        What was typed, kept where it cannot be used.
    problems : dict of str to str
        What is wrong, by field: "from" or "to".
    """

    first: date
    last: date
    start: datetime
    end: datetime
    typed_first: str
    typed_last: str
    problems: dict[str, str]


def presets(today: date) -> list[Preset]:
    """Give the periods that are asked for often, as of today."""
    month = today.replace(day=1)
    before = (month - DAY).replace(day=1)
    quarter = month.replace(month=3 * ((month.month - 1) // 3) + 1)
    year = today.replace(month=1, day=1)
    return [
        Preset("month", _("This month"), month, today),
        Preset("last-month", _("Last month"), before, month - DAY),
        Preset("quarter", _("This quarter"), quarter, today),
        Preset("year", _("This year"), year, today),
        Preset("twelve", _("Last twelve months"), _year_before(today) + DAY, today),
        Preset("all", _("From the beginning"), FIRST_DAY, today),
    ]


def _year_before(day: date) -> date:
    try:
        return day.replace(year=day.year - 1)
    except ValueError:
        return day.replace(year=day.year - 1, day=28)


def asked_period(request: HttpRequest) -> Period:
    """Read the period from an address; without one it is the last twelve months."""
    today = timezone.localdate()
    usual = next(one for one in presets(today) if one.key == "twelve")
    typed_first, typed_last = request.GET.get("from", ""), request.GET.get("to", "")
    problems: dict[str, str] = {}
    first = _day(typed_first, usual.first, "from", problems)
    last = _day(typed_last, usual.last, "to", problems)
    if not problems and last < first:
        problems["to"] = _("The last day is before the first. Choose a later day.")
    if problems:
        first, last = usual.first, usual.last
    return Period(
        first, last, _midnight(first), _midnight(last + DAY), typed_first, typed_last, problems
    )


def period_context(request: HttpRequest, filters: Iterable[Filter] = ()) -> dict[str, Any]:
    """Give the period form what it shows; a period that cannot be used answers with 422."""
    period = asked_period(request)
    return {
        "period": period,
        "presets": [_linked(request, one, period) for one in presets(timezone.localdate())],
        "filters": tuple(filters),
        "status": 422 if period.problems else 200,
    }


def _linked(request: HttpRequest, one: Preset, period: Period) -> dict[str, object]:
    days = {"from": one.first.isoformat(), "to": one.last.isoformat(), "after": ""}
    return {
        "label": one.label,
        "url": address_with(request, **days),
        "current": (one.first, one.last) == (period.first, period.last),
    }


def _day(typed: str, usual: date, name: str, problems: dict[str, str]) -> date:
    if not typed:
        return usual
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        problems[name] = _("This is no day of the calendar. Write it like 2026-03-31.")
        return usual
    if not FIRST_DAY <= day < LAST_DAY:
        problems[name] = _("Choose a day from 1990 to 2199.")
        return usual
    return day


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time.min, tzinfo=timezone.get_current_timezone())
