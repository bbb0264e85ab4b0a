"""Dates of a column in one order of day and month, which the whole column decides.

With points the day stands first: no locale of the CLDR has the month first with points and the
year last. With strokes or dashes one number above twelve, or the name of a day of the week,
decides; else it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import NamedTuple

from recycling.tables.lists.date_words import DAY_OF, MONTH_OF
from recycling.tables.lists.folded import folded

ARTICLES = frozenset(
    ("de", "of", "the", "del", "do", "den", "le", "il", "el", "em", "am", "on", "dia", "vom")
)
DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "dmy", "mdy", "ymd"
_ISO = re.compile(r"^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})\.?$")
_PACKED = re.compile(r"^(?:19|20)\d{6}$")
_PARTED = re.compile(r"^(\d{1,2})\s?([./-])\s?(\d{1,2})(?:\s?\2\s?(\d{4}|\d{2})?)?$")
_CLOCK = re.compile(
    r"(?:^|(?<=[\s,T]))(\d{1,2})(?:\s?(?:[:h.]|uhr)\s?(\d{2})(?::(\d{2})(?:[.,]\d+)?)?|\s?h(?=$|\s)"
    r"|(?=\s?(?:am|pm|a\.m\.|p\.m\.|uhr)))\s*(am|pm|a\.m\.|p\.m\.|uhr|h)?$",
    re.IGNORECASE,
)
_OFFSET = re.compile(r"\s?(?:Z|UTC|[+\-]\d{2}:?\d{2})$")
_ISO_TIMED = re.compile(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}")
_SPAN = re.compile(
    r"\d\s*\.?\s*(?:–|—|\bto\b|\bbis\b|\bau\b|\ba\b|\bal\b|\bate\b|\btot\b|\bund\b|&|\+)\s*\d"
    r"|^\d{1,2}\.?\s*-\s*\d{1,2}\.\s?\d|^\d{1,2}\s*-\s*\d{1,2}[/ ]",
    re.IGNORECASE,
)


class Parts(NamedTuple):
    """A date as typed: three numbers in an order that may be open; the clock; the day's name.

    `orders` are the orders in which it may be read; `year` is None where none is told.
    """

    numbers: tuple[int, ...]
    orders: tuple[str, ...]
    clock: time | None = None
    offset: str = ""
    days: frozenset[int] = frozenset()
    short_year: bool = False


class Wrong(NamedTuple):
    """What is wrong with a date: a code and plain words."""

    code: str
    said: str


UNREADABLE = Wrong("time-unreadable", "Write date and time as 2026-05-04 09:30.")
SPANNED = Wrong("time-span", "This is a span of days: write the day on which it was weighed.")


def parts_of(text: str) -> Parts | Wrong:
    """Take a typed date apart.

    Examples
    --------
    >>> parts_of("05/09/2026").orders, parts_of("5.9.26").orders, parts_of("25.09.2026, 9:30").clock
    (('dmy', 'mdy'), ('dmy',), datetime.time(9, 30))
    >>> parts_of("Sat, 5 Sept 2026").numbers, parts_of("September 5th, 2026 9.30 pm").clock
    ((2026, 9, 5), datetime.time(21, 30))
    >>> parts_of("5.–7.9.2026").code, parts_of("soon").code, parts_of("5.9.").numbers
    ('time-span', 'time-unreadable', (5, 9))
    """
    bare = " ".join(text.split())
    if _ISO_TIMED.match(bare):
        offset = _OFFSET.search(bare)
        if offset:
            day = parts_of(bare[: offset.start()])
            return day._replace(offset=offset[0].strip()) if isinstance(day, Parts) else day
    bare = re.sub(r"(?<=\d)T(?=\d)", " ", bare)
    named, days = _without_day(bare)
    rest, clock = _without_clock(named)
    if isinstance(clock, Wrong):
        return clock
    read = _numbers(rest)
    if read is None and rest != named:  # a point may part a date without a clock: 5.9.
        read, clock = _numbers(named), None
    if read is None:
        return SPANNED if _SPAN.search(rest) else UNREADABLE
    return read._replace(clock=clock, days=days)


def _without_day(text: str) -> tuple[str, frozenset[int]]:
    """Take the name of a day of the week off the front."""
    match = re.match(r"^([^\W\d_]+(?:-feira)?)\.?,?\s+(?:the |den |le |el |il |dia )?(?=.)", text,
                     re.IGNORECASE)  # fmt: skip
    if match:
        word = folded(match[1].removesuffix("-feira"))
        if word in DAY_OF and not (
            word in MONTH_OF and re.match(r"^\d{1,2}\D", text[match.end() :])
        ):
            return text[match.end() :], frozenset(DAY_OF[word])
    return text, frozenset()


def _without_clock(text: str) -> tuple[str, time | None | Wrong]:
    """Take a time of day off the end."""
    match = _CLOCK.search(text)
    if not match or not text[: match.start()].strip(" ,"):
        return text, None
    before = text[: match.start()].rstrip(" ,")
    if not re.search(r"\d", before):
        return text, None
    clock = _clock(match)
    return re.sub(r",? (?:at|um|à|às|a las|ore|alle|om|gegen)$", "", before), clock or UNREADABLE


def _clock(match: re.Match[str]) -> time | None:
    hour, minute, second = int(match[1]), int(match[2] or 0), int(match[3] or 0)
    half = (match[4] or "").lower().replace(".", "")
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


def clock_of(text: str) -> time | None:
    """Read a time of day that stands alone; None where it is none.

    Examples
    --------
    >>> clock_of("9h30"), clock_of("9.30 Uhr"), clock_of("12:15 am"), clock_of("25:00")
    (datetime.time(9, 30), datetime.time(9, 30), datetime.time(0, 15), None)
    """
    match = _CLOCK.search(" ".join(text.split()))
    return _clock(match) if match and not match.start() else None


def _numbers(text: str) -> Parts | None:
    text = text.strip(" ,")
    if match := _ISO.match(text):
        return Parts((int(match[1]), int(match[3]), int(match[4])), (YEAR_FIRST,))
    if _PACKED.match(text):
        return Parts((int(text[:4]), int(text[4:6]), int(text[6:])), (YEAR_FIRST,))
    if match := _PARTED.match(text):
        numbers = [int(match[1]), int(match[3])]
        orders = (DAY_FIRST,) if match[2] == "." else (DAY_FIRST, MONTH_FIRST)
        if match[4]:
            year = int(match[4])
            short = len(match[4]) == 2
            return Parts((*numbers, year + 2000 * short), orders, short_year=short)
        return Parts(tuple(numbers), orders)
    return _worded(text)


def _worded(text: str) -> Parts | None:
    """Read a date with the month in words, in any order; the year may be missing."""
    words = [word for word in re.split(r"[\s,./\-']+", text) if word]
    words = [word for word in words if folded(word) not in ARTICLES]
    months = [MONTH_OF[folded(word)] for word in words if folded(word) in MONTH_OF]
    numbers = [re.fullmatch(r"(\d{1,4})(?:st|nd|rd|th|er|º|ª|o)?", word) for word in words
               if folded(word) not in MONTH_OF]  # fmt: skip
    if len(months) != 1 or not all(numbers) or not 1 <= len(numbers) <= 2:
        return None
    read = [(int(one[1]), len(one[1])) for one in numbers if one]
    if len(read) == 1:
        return Parts((read[0][0], months[0]), (DAY_FIRST,)) if read[0][1] <= 2 else None
    (first, wide), (last, last_wide) = read
    if wide == 4:
        return Parts((first, months[0], last), (YEAR_FIRST,)) if last_wide <= 2 else None
    year = last if last_wide == 4 else last + 2000 if last_wide == 2 else None
    return Parts((year, months[0], first), (YEAR_FIRST,)) if year else None


def day_in(parts: Parts, order: str, year: int | None = None) -> date | None:
    """Give the day that a date names when it is read in an order; None where there is none.

    Examples
    --------
    >>> slashes = parts_of("25/09/2026")
    >>> day_in(slashes, "dmy"), day_in(slashes, "mdy")
    (datetime.date(2026, 9, 25), None)
    """
    order = order if order in parts.orders else parts.orders[0] if len(parts.orders) == 1 else ""
    if not order:
        return None
    numbers = parts.numbers
    if len(numbers) == 2:
        if year is None:
            return None
        numbers = (*numbers, year)
    named = dict(zip(order, numbers, strict=True))
    try:
        day = date(named["y"], named["m"], named["d"])
    except ValueError:
        return None
    return day if not parts.days or day.weekday() in parts.days else None


@dataclass(frozen=True)
class Orders:
    """In which orders a column may be read, and whether a year is missing in it."""

    possible: tuple[str, ...]
    yearless: int = 0


def orders_of(column: Iterable[tuple[int, Parts]], this_year: int) -> Orders:
    """Find the orders of day and month in which every date of a column can be read.

    Examples
    --------
    >>> both, first = parts_of("05/09/2026"), parts_of("25/09/2026")
    >>> orders_of([(2, both)], 2026).possible, orders_of([(2, both), (3, first)], 2026).possible
    (('dmy', 'mdy'), ('dmy',))
    """
    dates = list(column)
    open_dates = [parts for _, parts in dates if len(parts.orders) > 1]
    yearless = next((place for place, parts in dates if len(parts.numbers) == 2), 0)
    if not open_dates:
        return Orders((DAY_FIRST,), yearless)
    possible = [
        order
        for order in (DAY_FIRST, MONTH_FIRST)
        if all(_may(parts, order, this_year) for parts in open_dates)
    ]
    if all(parts.short_year for parts in open_dates) and _year_first(open_dates, this_year):
        recent = any(_recent(open_dates, order, this_year) for order in possible)
        possible += [] if recent else [YEAR_FIRST]
    return Orders(tuple(possible), yearless)


def _may(parts: Parts, order: str, this_year: int) -> bool:
    if len(parts.numbers) == 2:  # any year may be meant: one with a 29th of February
        return any(day_in(parts, order, year) for year in range(this_year - 8, this_year + 1))
    return day_in(parts, order) is not None


def _recent(dates: Sequence[Parts], order: str, this_year: int) -> bool:
    days = [day_in(parts, order) for parts in dates]
    return all(day is not None and this_year - day.year <= 10 for day in days)


def _year_first(dates: Sequence[Parts], this_year: int) -> bool:
    """Whether all may be year, month, day with a short year, of late."""
    return all(
        (day := day_in(turned(parts), YEAR_FIRST)) is not None and 0 <= this_year - day.year <= 10
        for parts in dates
    )


def turned(parts: Parts) -> Parts:
    """Read a date with a short year at its end as one with the year at its front."""
    first, second, last = parts.numbers
    return parts._replace(numbers=(first + 2000, second, last - 2000), orders=(YEAR_FIRST,))
