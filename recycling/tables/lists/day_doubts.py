"""What is doubtful of the dates of a list: no year, day and month swapped, years away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from recycling.calc.balance.typed_limits import CLOCK_SLACK, FIRST_USUAL_YEAR
from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Cell, Clock, shown
from recycling.tables.lists.dates import Parts
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.table import Line
from shared.said import say

YEARS = 3
"""From how many years a date without its year may be."""
FAR_YEARS = 3
"""A date so many years away from every other of its list is asked about."""


@dataclass(frozen=True)
class When:
    """The moment of a row; without a clock it is kept as noon of its day, `timed` being False."""

    at: datetime
    timed: bool


@dataclass(frozen=True)
class Said:
    """What stands as the date of a row."""

    line: Line
    cell: Cell
    parts: Parts | None


def year_of(said: Sequence[Said], column: Column, known: Known, asking: Asking) -> int | None:
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


def swapped_in(said: Sequence[Said], column: Column, asking: Asking) -> bool | None:
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


def far_asked(read: Mapping[int, When], column: Column, asking: Asking) -> bool:
    """Ask once about dates that are years away from all others of the list; whether to go on."""
    years = sorted(one.at.year for one in read.values())
    if len(years) < 3:
        return True
    middle = years[len(years) // 2]
    odd = [row for row, one in read.items() if abs(one.at.year - middle) >= FAR_YEARS]
    near = [one for one in years if abs(one - middle) < FAR_YEARS]
    if not odd or len(odd) * 3 > len(near):
        return True
    text = say(
        "Row {row} is of {year}, years away from the others. Is that right?",
        row=odd[0],
        year=str(read[odd[0]].at.year),
    )
    return _right_or_left("far", text, odd, column, asking)


def odd_asked(read: Mapping[int, When], column: Column, known: Known, asking: Asking) -> bool:
    """Ask once about dates to come, and once about those before 2000; whether to go on."""
    coming = [row for row, one in read.items() if one.at > known.now + CLOCK_SLACK]
    early = [row for row, one in read.items() if one.at.year < FIRST_USUAL_YEAR]
    going_on = True
    if coming:
        day = read[coming[0]].at.date().isoformat()
        text = say("Row {row} is of {day}, which is still to come. Is that right?",
                   row=coming[0], day=day)  # fmt: skip
        going_on = _right_or_left("to-come", text, coming, column, asking)
    if early:
        day = read[early[0]].at.date().isoformat()
        text = say("Row {row} is of {day}, before 2000. Is that right?", row=early[0], day=day)
        going_on = _right_or_left("before-2000", text, early, column, asking) and going_on
    return going_on


def _right_or_left(
    key: str, text: str, rows: Sequence[int], column: Column, asking: Asking
) -> bool:
    """Ask whether odd rows are right, or are to be left out; whether that was answered."""
    choices = [Choice("right", say("It is right")), Choice("leave", say("Leave such rows out"))]
    answer = asking.ask(key, "plausible", text, choices, rows[0], column.head)
    if answer == "leave":
        asking.skipped.update(dict.fromkeys(rows, "left out"))
    return answer is not None
