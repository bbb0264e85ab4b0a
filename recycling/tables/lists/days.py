"""When each row of a list happened: dates in one order of day and month, joined with times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Cell, Clock, Stored, shown
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
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.table import Line, Table, check_unread, is_ditto
from recycling.tables.lists.words import AT, TIME
from shared.said import say

NOON = time(12)
YEARS = 3
"""From how many years a date without its year may be."""
FAR_YEARS = 3
"""A date so many years away from every other of its list is asked about."""
LABELS = {
    DAY_FIRST: say("The day stands first"),
    MONTH_FIRST: say("The month stands first"),
    YEAR_FIRST: say("The year stands first"),
}


@dataclass(frozen=True)
class When:
    """The moment of a row; without a clock it is kept as noon of its day, `timed` being False."""

    at: datetime
    timed: bool


@dataclass(frozen=True)
class _Said:
    line: Line
    cell: Cell
    parts: Parts | None


def moments_of(
    lines: Sequence[Line], table: Table, known: Known, filling: bool, asking: Asking
) -> dict[int, When] | None:
    """Read the moment of every row; None while something is asked.

    With `filling`, a row without a day has that of the row above.
    """
    columns = table.of(AT)
    if not columns:
        return None
    column, said = columns[0], list[_Said]()
    for line in lines:
        one = _said(line, column, filling, asking)
        if one is not None:
            said.append(one)
    order, year = _order(said, column, known, asking), _year(said, column, known, asking)
    swapped = _swapped(said, column, asking)
    if order is None or year is None or swapped is None:
        return None
    read = {}
    for one in said:
        when = _moment(one, order, year or None, swapped, column, table, known, asking)
        if when is not None:
            read[one.line.number] = when
    return read if _far(read, column, asking) else None


def _said(line: Line, column: Column, filling: bool, asking: Asking) -> _Said | None:
    cell = line.at(column.place)
    if is_ditto(cell) or (cell == "" and filling):
        cell = line.above.get(AT, "")
    if cell == "":
        asking.wrong("time-missing", say("The date is missing."), line.number, column.head)
        return None
    if check_unread(line, column, asking):
        return None
    if isinstance(cell, Clock):
        return _Said(line, cell, None)
    parts = UNREADABLE if isinstance(cell, Stored) else parts_of(shown(cell))
    if isinstance(parts, Wrong):
        asking.wrong(parts.code, parts.said, line.number, column.head)
        return None
    return _Said(line, cell, parts)


def _order(said: Sequence[_Said], column: Column, known: Known, asking: Asking) -> str | None:
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


def _example(one: _Said, order: str, known: Known) -> str:
    assert one.parts is not None
    day = _day(one.parts, order, known.now.year)
    return f"{shown(one.cell)} = {day.isoformat() if day else '–'}"


def _day(parts: Parts, order: str, year: int | None) -> date | None:
    if order == YEAR_FIRST and len(parts.orders) > 1:
        return day_in(turned(parts), YEAR_FIRST)
    return day_in(parts, order, year)


def _name_contradiction(
    said: Sequence[_Said], column: Column, known: Known, asking: Asking
) -> None:
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


def _year(said: Sequence[_Said], column: Column, known: Known, asking: Asking) -> int | None:
    """Ask for the year of dates without one; 0 where all have theirs."""
    without = [one for one in said if one.parts and len(one.parts.numbers) == 2]
    if not without:
        return 0
    first = without[0]
    years = range(known.now.year, known.now.year - YEARS, -1)
    answer = asking.ask(
        "year",
        "date",
        say("The dates under “{head}” have no year. Which is it?", head=column.head),
        [Choice(str(year), str(year), f"{shown(first.cell)} {year}") for year in years],
        first.line.number,
        column.head,
    )
    return None if answer is None else int(answer)


def _swapped(said: Sequence[_Said], column: Column, asking: Asking) -> bool | None:
    """Ask whether days and months were swapped, where only some dates became dates of the sheet.

    A spreadsheet of another country turns 05/09 into a date, its own way, and leaves 25/09 a text.
    """
    stored = [one for one in said if isinstance(one.cell, Clock) and one.cell.at.day <= 12]
    left = [one for one in said if one.parts and len(one.parts.orders) > 1]
    if not stored or not left:
        return False
    day = stored[0].cell
    assert isinstance(day, Clock)
    turned_day = day.at.replace(month=day.at.day, day=day.at.month)
    answer = asking.ask(
        "swapped",
        "date",
        say(
            "Some dates under “{head}” are dates of the spreadsheet, others texts: it may have"
            " swapped day and month. Which is right?",
            head=column.head,
        ),
        [
            Choice("kept", say("As they stand"), day.at.date().isoformat()),
            Choice("swapped", say("Day and month swapped"), turned_day.date().isoformat()),
        ],
        stored[0].line.number,
        column.head,
    )
    return None if answer is None else answer == "swapped"


def _moment(
    one: _Said,
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


def _within(when: When, one: _Said, column: Column, known: Known, asking: Asking) -> bool:
    if when.at > known.now + timedelta(minutes=5):
        words = say("This time is still to come; check the date.")
        asking.wrong("time-in-future", words, one.line.number, column.head)
        return False
    if when.at.year < 2000:
        words = say("This time is before 2000; check the year.")
        asking.wrong("time-too-early", words, one.line.number, column.head)
        return False
    return True


def _day_and_clock(
    one: _Said, order: str, year: int | None, swapped: bool
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


def _far(read: Mapping[int, When], column: Column, asking: Asking) -> bool:
    """Ask once about dates that are years away from all others of the list; whether to go on."""
    years = sorted(one.at.year for one in read.values())
    if len(years) < 3:
        return True
    middle = years[len(years) // 2]
    odd = [row for row, one in read.items() if abs(one.at.year - middle) >= FAR_YEARS]
    near = [one for one in years if abs(one - middle) < FAR_YEARS]
    if not odd or len(odd) * 3 > len(near):
        return True
    answer = asking.ask(
        "far",
        "plausible",
        say(
            "Row {row} is of {year}, years away from the others. Is that right?",
            row=odd[0],
            year=str(read[odd[0]].at.year),
        ),
        [Choice("right", say("It is right")), Choice("leave", say("Leave such rows out"))],
        odd[0],
        column.head,
    )
    if answer == "leave":
        asking.skipped.update(dict.fromkeys(odd, "left out"))
    return answer is not None
