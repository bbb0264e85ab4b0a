"""When each row of a list happened: dates in one order of day and month, joined with times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Clock, Stored, shown
from recycling.tables.lists.dates import (
    DAY_FIRST,
    MONTH_FIRST,
    UNREADABLE,
    YEAR_FIRST,
    Parts,
    Wrong,
    clock_of,
    day_in,
    orders_of,
    parts_of,
    turned,
)
from recycling.tables.lists.day_doubts import Said, When, far_asked, odd_asked, swapped_in, year_of
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.table import Line, Table, check_unread, is_ditto
from recycling.tables.lists.words import AT, TIME
from shared.said import say

NOON = time(12)
LABELS = {
    DAY_FIRST: say("The day stands first"),
    MONTH_FIRST: say("The month stands first"),
    YEAR_FIRST: say("The year stands first"),
}


def moments_of(
    lines: Sequence[Line], table: Table, known: Known, filling: bool, asking: Asking
) -> dict[int, When] | None:
    """Read the moment of every row; None while something is asked.

    With `filling`, a row without a day has that of the row above.
    """
    columns = table.of(AT)
    if not columns:
        return None
    column, said = columns[0], list[Said]()
    for line in lines:
        one = _said(line, column, filling, asking)
        if one is not None:
            said.append(one)
    order, year = _order(said, column, known, asking), year_of(said, column, known, asking)
    swapped = swapped_in(said, column, asking)
    if order is None or year is None or swapped is None:
        return None
    read = {}
    for one in said:
        when = _moment(one, order, year or None, swapped, column, table, known, asking)
        if when is not None:
            read[one.line.number] = when
    odd = odd_asked(read, column, known, asking)
    return read if far_asked(read, column, asking) and odd else None


def _said(line: Line, column: Column, filling: bool, asking: Asking) -> Said | None:
    cell = line.at(column.place)
    if is_ditto(cell) or (cell == "" and filling):
        cell = line.above.get(AT, "")
    if cell == "":
        asking.wrong("time-missing", say("The date is missing."), line.number, column.head)
        return None
    if check_unread(line, column, asking):
        return None
    if isinstance(cell, Clock):
        return Said(line, cell, None)
    parts = UNREADABLE if isinstance(cell, Stored) else parts_of(shown(cell))
    if isinstance(parts, Wrong):
        asking.wrong(parts.code, parts.said, line.number, column.head)
        return None
    return Said(line, cell, parts)


def _order(said: Sequence[Said], column: Column, known: Known, asking: Asking) -> str | None:
    dates = [(place, one.parts) for place, one in enumerate(said) if one.parts]
    found = orders_of(dates, known.now.year)
    open_ones = [one for one in said if one.parts and len(one.parts.orders) > 1]
    if len(found.possible) == 1:
        return found.possible[0]
    if not found.possible:
        _name_contradiction(open_ones, column, known, asking)
        return None
    first = open_ones[0]
    assert first.parts is not None
    return asking.ask(
        "date",
        "date",
        say(
            "The dates under “{head}” can be read in several ways. Which is right?",
            head=column.head,
        ),
        [Choice(one, LABELS[one], _example(first, one, known)) for one in found.possible],
        first.line.number,
        column.head,
    )


def _example(one: Said, order: str, known: Known) -> str:
    assert one.parts is not None
    day = _day(one.parts, order, known.now.year)
    return f"{shown(one.cell)} = {day.isoformat() if day else '–'}"


def _day(parts: Parts, order: str, year: int | None) -> date | None:
    if order == YEAR_FIRST and len(parts.orders) > 1:
        return day_in(turned(parts), YEAR_FIRST)
    return day_in(parts, order, year)


def _name_contradiction(said: Sequence[Said], column: Column, known: Known, asking: Asking) -> None:
    """Name what can be read in no order, or one date of each order that contradict each other."""
    named = set[str]()
    for one in said:
        assert one.parts is not None
        fits = [order for order in (DAY_FIRST, MONTH_FIRST)
                if orders_of([(0, one.parts)], known.now.year).possible.count(order)]  # fmt: skip
        if not fits:
            words = say("There is no such day: “{text}”.", text=shown(one.cell)[:40])
            asking.wrong("time-unreadable", words, one.line.number, column.head)
        elif len(fits) == 1 and fits[0] not in named:
            named.add(fits[0])
            words = say(
                "The dates of this column are written in two orders; this is one: “{text}”."
                " Write all in one.",
                text=shown(one.cell)[:40],
            )
            asking.wrong("date-mixed", words, one.line.number, column.head)


def _moment(
    one: Said,
    order: str,
    year: int | None,
    swapped: bool,
    column: Column,
    table: Table,
    known: Known,
    asking: Asking,
) -> When | None:
    day, clock, offset = _day_and_clock(one, order, year, swapped)
    if day is None:
        words = say("There is no such day: “{text}”.", text=shown(one.cell)[:40])
        asking.wrong("time-unreadable", words, one.line.number, column.head)
        return None
    beside = _clock_beside(one.line, table, asking)
    if beside is False:
        return None
    clock = beside if isinstance(beside, time) else clock
    zone = ZoneInfo(known.zone)
    if clock is None:
        at = min(datetime.combine(day, NOON, zone), known.now)
        today = known.now.astimezone(zone).date()
        when = When(at if day <= today else datetime.combine(day, NOON, zone), False)
    elif offset:
        when = When(datetime.fromisoformat(f"{day}T{clock}{_offset(offset)}"), True)
    else:
        first, second = (datetime.combine(day, clock, zone).replace(fold=fold) for fold in (0, 1))
        if first.utcoffset() != second.utcoffset():
            words = say(
                "Clocks show this time twice or never: add its offset, as in"
                " 2026-05-04T09:30+02:00."
            )
            asking.wrong("time-without-offset", words, one.line.number, column.head)
            return None
        when = When(first, True)
    return when if _within(when, one, column, known, asking) else None


def _offset(text: str) -> str:
    return "+00:00" if text.upper() in ("Z", "UTC") else text


def _within(when: When, one: Said, column: Column, known: Known, asking: Asking) -> bool:
    if when.at.year >= 2100:
        words = say("This time is still to come; check the date.")
        asking.wrong("time-in-future", words, one.line.number, column.head)
        return False
    if when.at.year < 1970:
        words = say("This time is before 1970; check the year.")
        asking.wrong("time-too-early", words, one.line.number, column.head)
        return False
    return True


def _day_and_clock(
    one: Said, order: str, year: int | None, swapped: bool
) -> tuple[date | None, time | None, str]:
    if isinstance(one.cell, Clock):
        at = one.cell.at
        if swapped and at.day <= 12:
            at = at.replace(month=at.day, day=at.month)
        return at.date(), at.time() if one.cell.timed else None, ""
    assert one.parts is not None
    return _day(one.parts, order, year), one.parts.clock, one.parts.offset


def _clock_beside(line: Line, table: Table, asking: Asking) -> time | None | bool:
    """Read the column of times; None where nothing stands there, False where it is unreadable."""
    for column in table.of(TIME):
        cell = line.at(column.place)
        if is_ditto(cell):
            cell = line.above.get(TIME, "")
        if cell == "":
            continue
        clock = cell.at.time() if isinstance(cell, Clock) else clock_of(shown(cell))
        if clock is None:
            words = say("“{text}” is not a time of day such as 09:30.", text=shown(cell)[:40])
            asking.wrong("time-unreadable", words, line.number, column.head)
            return False
        return clock
    return None
