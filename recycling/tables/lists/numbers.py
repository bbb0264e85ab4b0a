"""Numbers of a column in one notation, which the whole column decides; never cell by cell.

A point, a comma, an apostrophe or a space may part thousands or decimals. A cell with two
different marks, with one mark twice, or with other than three digits after it, is evidence; so is
a zero, or more than three digits, before it. Where no cell decides, both readings are kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from recycling.tables.lists.folded import folded
from recycling.tables.lists.words import UNIT_WORDS

POINT, COMMA = ".", ","
_ABOUT = re.compile(r"^(?:~|≈|±|circa\b\.?|ca\b\.?|c\.|about|approx\b\.?|approximately|etwa|rund|"
                    r"ungef[äa]hr|cerca de|env\b\.?|environ|aprox\b\.?|unos|circa|ongeveer)\s*",
                    re.IGNORECASE)  # fmt: skip
_TYPED = re.compile(r"^(?P<sign>[+\-−–]?)\s*(?P<number>\d[\d.,'’\u00a0\u202f\u2009 ]*|[.,]\d+)"
                    r"\s*(?P<unit>[^\W\d_]*)\.?$")  # fmt: skip
_POUNDS = re.compile(r"^(\d+)\s*(?:lbs?|pounds?)\.?,?\s*(\d+(?:[.,]\d{1,2})?)\s*(?:oz|ounces?)\.?$",
                     re.IGNORECASE)  # fmt: skip
_SPACES = re.compile("['’\u00a0\u202f\u2009 ]")
_GROUPED = re.compile(r"^\d{1,3}(?:['’\u00a0\u202f\u2009 ]\d{3})+$")
OUNCES = Decimal(16)


class Typed(NamedTuple):
    """A number as typed: its digits with their points and commas, its unit, how sure it is."""

    digits: str
    unit: str = ""
    about: bool = False
    below_zero: bool = False
    ounces: Decimal | None = None


def typed(text: str) -> Typed | None:
    """Read what a cell says; None where it is no number with at most a unit.

    Examples
    --------
    >>> typed("ca. 4,2 kg")
    Typed(digits='4,2', unit='kg', about=True, below_zero=False, ounces=None)
    >>> typed("12 500 g").digits, typed("1’234.567").digits
    ('12500', "1234'.567")
    >>> typed("2 lb 3 oz").ounces, typed("1,2 stone"), typed("1 2 3")
    (Decimal('35'), None, None)
    """
    bare = text.strip()
    about = _ABOUT.match(bare)
    bare = bare[about.end() :] if about else bare
    pounds = _POUNDS.match(bare)
    if pounds:
        ounces = Decimal(pounds[1]) * OUNCES + Decimal(pounds[2].replace(",", "."))
        return Typed("", "oz", bool(about), False, ounces)
    match = _TYPED.match(bare)
    if not match:
        return None
    unit = UNIT_WORDS.get(folded(match["unit"]), "") if match["unit"] else ""
    digits = _closed(match["number"].strip())
    if (match["unit"] and not unit) or digits is None:
        return None
    return Typed(digits, unit, bool(about), match["sign"] in tuple("-−–"))


def _closed(number: str) -> str | None:
    """Take spaces and apostrophes out that part thousands; None where they part something else."""
    if not _SPACES.search(number):
        return number
    marks = [place for place, sign in enumerate(number) if sign in ".,"]
    whole = number[: marks[0]] if marks else number
    if len(marks) > 1 or not _GROUPED.match(whole) or _SPACES.search(number[len(whole) :]):
        return None
    return _SPACES.sub("", whole) + "'" + number[len(whole) :] if marks else _SPACES.sub("", whole)


@dataclass(frozen=True)
class Marks:
    """What the cells of a column prove: marks that part decimals, and marks that part thousands.

    `decimal` and `thousands` map a mark to the first place that proves it; `open` are places whose
    mark may be either; `broken` those that no notation gives.
    """

    decimal: dict[str, int]
    thousands: dict[str, int]
    open: dict[str, list[int]]
    broken: list[int]

    @property
    def mixed(self) -> bool:
        """Whether there is evidence both ways."""
        both = set(self.decimal) & set(self.thousands)
        return bool(both) or len(self.decimal) > 1 or len(self.thousands) > 1

    @property
    def readings(self) -> tuple[str, ...]:
        """The decimal marks that the column may have: one where it is proved, else two."""
        if self.decimal:
            return (next(iter(self.decimal)),)
        if self.thousands:
            return (_other(next(iter(self.thousands))),)
        if not self.open:
            return (POINT,)
        first = next(iter(self.open))
        return (POINT, COMMA) if len(self.open) == 1 else (first, _other(first))


def _other(mark: str) -> str:
    return COMMA if mark == POINT else POINT


def marks_of(numbers: Iterable[tuple[int, str]]) -> Marks:
    """Look through the digits of a column, each with its place.

    Examples
    --------
    >>> marks_of([(2, "12.500"), (3, "1.789,5")]).readings
    (',',)
    >>> marks_of([(2, "1,408"), (3, "2,638")]).readings
    ('.', ',')
    >>> marks_of([(2, "0,350"), (3, "1,408")]).readings, marks_of([(2, "4.5"), (3, "3,2")]).mixed
    ((',',), True)
    """
    found = Marks({}, {}, {}, [])
    for place, digits in numbers:
        _weigh(place, digits, found)
    return found


def _weigh(place: int, digits: str, found: Marks) -> None:
    """Note what one cell proves."""
    parted, digits = "'" in digits, digits.replace("'", "")
    marks = [sign for sign in digits if sign in ".,"]
    if not marks:
        return
    last, parts = marks[-1], re.split("[.,]", digits)
    if len(set(marks)) == 2:
        if marks[:-1].count(last) or not _groups(parts[:-1]) or not parts[-1]:
            found.broken.append(place)
            return
        found.thousands.setdefault(_other(last), place)
        found.decimal.setdefault(last, place)
    elif len(marks) > 1:
        if _groups(parts):
            found.thousands.setdefault(last, place)
        else:
            found.broken.append(place)
    elif parted or len(parts[1]) != 3 or not 1 <= len(parts[0]) <= 3 or parts[0].startswith("0"):
        if parts[1]:
            found.decimal.setdefault(last, place)
        else:
            found.broken.append(place)
    else:
        found.open.setdefault(last, []).append(place)


def _groups(parts: list[str]) -> bool:
    return 1 <= len(parts[0]) <= 3 and all(len(part) == 3 for part in parts[1:])


def value_of(digits: str, decimal: str) -> Decimal:
    """Read digits in a notation, by its decimal mark.

    Examples
    --------
    >>> value_of("1.789,5", ","), value_of("12.500", ","), value_of("12.500", ".")
    (Decimal('1789.5'), Decimal('12500'), Decimal('12.500'))
    """
    bare = digits.replace("'", "").replace(_other(decimal), "")
    return Decimal(bare.replace(decimal, "."))
