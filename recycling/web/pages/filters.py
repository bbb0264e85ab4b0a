"""What these pages share: filters, and words."""

from __future__ import annotations

from collections.abc import Iterable

from django.http import HttpRequest
from django.utils.translation import gettext as _

from recycling.stages import STAGES
from recycling.web.book_words import stage_said
from recycling.web.pages.periods import Period
from recycling.web.pages.read import Choice, Filter, chosen


def filter_by(
    request: HttpRequest, name: str, label: str, choices: Iterable[tuple[str, str]]
) -> Filter:
    """Make a filter of the choices; anything that is not among them counts as the first."""
    each = tuple(Choice(value, words) for value, words in choices)
    return Filter(name, label, chosen(request, name, each) or each[0].value, each)


def stage_choices(keys: Iterable[str]) -> list[tuple[str, str]]:
    """List stages in the order of the process, with any stage first."""
    wanted = set(keys)
    named = [(one.key, stage_said(one.key)) for one in STAGES if one.key in wanted]
    return [("", _("any stage")), *named]


def days(period: Period) -> str:
    """Name a period in the name of a file."""
    return f"{period.first.isoformat()}-{period.last.isoformat()}"
