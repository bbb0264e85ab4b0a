"""Local times as people type them: the hour that is left out, and the hour that comes twice."""

from __future__ import annotations

import re
from datetime import UTC, datetime, tzinfo

from django.utils.translation import gettext as _

from shared.errors import Refused

FIRST, SECOND = "first", "second"
WRITTEN = "%Y-%m-%dT%H:%M"
_TYPED = re.compile(r"^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2})(?::\d{2}(?:\.\d+)?)?$", re.ASCII)


def read_local(text: str) -> datetime:
    """Read a date and time without offset, as a browser's field or a person writes it.

    Raises
    ------
    Refused
        When it is no date and time.
    """
    match = _TYPED.match(text.strip())
    try:
        return datetime.strptime("T".join(match.groups()), WRITTEN) if match else _refuse(text)
    except ValueError:
        return _refuse(text)


def _refuse(text: str) -> datetime:
    raise Refused.because(
        "time-unreadable",
        _("“%(text)s” is not a date and time. Type it like 2026-05-09 14:30.") % {"text": text},
    )


def read_moment(text: str) -> datetime:
    """Read a date and time with its offset, as a device notes when an entry was made.

    Raises
    ------
    Refused
        When it is none.
    """
    try:
        moment = datetime.fromisoformat(text)
        return moment.astimezone(UTC) if moment.tzinfo else _refuse(text)
    except (ValueError, OverflowError):
        return _refuse(text)


def comes_twice(local: datetime, zone: tzinfo) -> bool:
    """Say whether clocks show this local time twice, as when they are put back."""
    before, after = _offsets(local, zone)
    return before > after


def _offsets(local: datetime, zone: tzinfo) -> tuple[float, float]:
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return first.utcoffset().total_seconds(), second.utcoffset().total_seconds()  # type: ignore


def moment_of(local: datetime, zone: tzinfo, which: str = "") -> datetime:
    """Give the moment of a local time; `which` of the two where clocks show it twice.

    Raises
    ------
    Refused
        When clocks never show this time, or show it twice and `which` is not said.
    """
    before, after = _offsets(local, zone)
    if before < after:
        raise Refused.because(
            "time-does-not-exist",
            _("This time does not exist: the clocks were put forward over it. Type one after it."),
        )
    if before > after and which not in (FIRST, SECOND):
        raise Refused.because(
            "time-twice", _("The clocks showed this time twice. Say which of the two it was.")
        )
    return local.replace(tzinfo=zone, fold=int(which == SECOND)).astimezone(UTC)


def which_choices(local: datetime, zone: tzinfo) -> list[tuple[str, str]]:
    """Name the two moments of a local time that comes twice, by their offsets."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return [
        (FIRST, _("the first, before the clocks went back (%s)") % _offset(first)),
        (SECOND, _("the second, after it (%s)") % _offset(second)),
    ]


def _offset(moment: datetime) -> str:
    return f"{moment.tzname()}, UTC{moment.isoformat()[-6:]}"
