"""Cursors: opaque texts that stand for a place in a stable order."""

from __future__ import annotations

import base64
import binascii
from datetime import datetime

from django.db.models import Q

from shared.errors import Refused

MOST_ROWS = 200


def cursor_for(number: int) -> str:
    """Write the cursor that stands after a row."""
    return base64.urlsafe_b64encode(f"n{number}".encode()).decode().rstrip("=")


def number_of(cursor: str) -> int | None:
    """Read a cursor; None for the beginning, Refused for a text that is none."""
    if not cursor:
        return None
    try:
        text = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
        if text[:1] != "n" or len(text) > 20 or not text[1:].isascii():
            raise ValueError
        return int(text[1:])
    except (ValueError, binascii.Error, UnicodeDecodeError) as error:
        raise Refused.because(
            "cursor-unreadable", "This is no cursor of ours; start from the first page."
        ) from error


def checked_limit(limit: int) -> int:
    """Keep the number of rows within bounds."""
    return min(max(limit, 1), MOST_ROWS)


def within(column: str, start: datetime | None, end: datetime | None) -> Q:
    """Keep what a column says is from a start on and before an end; without them all of it."""
    found = Q()
    if start is not None:
        found &= Q(**{f"{column}__gte": start})
    if end is not None:
        found &= Q(**{f"{column}__lt": end})
    return found


def run_within(start: datetime | None, end: datetime | None, run: str = "") -> Q:
    """Keep runs that ended within a time; those that go on, that started within it."""
    going_on = Q(**{f"{run}ended_at": None})
    open_ones = going_on & within(f"{run}started_at", start, end)
    return Q() if start is end is None else within(f"{run}ended_at", start, end) | open_ones
