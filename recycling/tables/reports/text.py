"""Figures of a document as people read them: masses in kg with nothing rounded away.

A column of masses has as many decimals as its finest mass needs, three at least, so that what is
printed is what was counted, to the milligram, and decimal marks stand under each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import floor, log10

from recycling.records.reports.documents import (
    DAY,
    ENERGY,
    MASS,
    SHARE,
    TEXT,
    Cell,
    Column,
    Fact,
    Table,
)
from recycling.records.reports.files import FileWords

NOTHING = "–"
UNITS = {MASS: "kg", SHARE: "%", ENERGY: "kWh"}
RAW_UNITS = {MASS: "mg", SHARE: "1", ENERGY: "kWh"}
FINEST_KG = 6
MOST_ROWS = 60
"""Rows of a table that are set to be read; the files that are worked with hold all."""


@dataclass(frozen=True)
class SetColumn:
    """A column ready to be set.

    Attributes
    ----------
    title, unit, how : str
        Its heading, its unit as shown, where its figures come from in words.
    right : bool
        Whether it holds figures, which stand to the right.
    """

    title: str
    unit: str
    how: str
    right: bool

    @property
    def heading(self) -> str:
        """The heading with the unit."""
        return f"{self.title}, {self.unit}" if self.unit else self.title


@dataclass(frozen=True)
class SetTable:
    """A table with every cell as text; `more` says how many rows are left out, or nothing."""

    key: str
    caption: str
    columns: tuple[SetColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...] | None
    more: str = ""


@dataclass(frozen=True)
class SetFact:
    """A fact as text: its value with unit, its uncertainty, where it comes from, its note."""

    key: str
    title: str
    value: str
    uncertainty: str
    how: str
    note: str


def unit_of(column: Column | Fact) -> str:
    """Return the unit that people read.

    Examples
    --------
    >>> unit_of(Column("mass_mg", "Mass", "mass")), unit_of(Column("n", "Bags", "number", "bags"))
    ('kg', 'bags')
    """
    return UNITS.get(column.kind, column.unit)


def raw_unit_of(column: Column | Fact) -> str:
    """Return the unit of the value as it is kept.

    Examples
    --------
    >>> raw_unit_of(Column("mass_mg", "Mass", "mass"))
    'mg'
    """
    return RAW_UNITS.get(column.kind, column.unit)


def decimals_for(kind: str, values: Iterable[Cell]) -> int:
    """Return how many decimals the values of a column are shown with.

    Examples
    --------
    >>> decimals_for("mass", [1_500_000, 2]), decimals_for("mass", [1_000, None])
    (6, 3)
    >>> decimals_for("share", [0.5]), decimals_for("number", [3, 4]), decimals_for("number", [0.25])
    (1, 0, 2)
    """
    held = [value for value in values if isinstance(value, int | float)]
    if kind == MASS:
        fine = [_decimals(Decimal(str(value)).scaleb(-6)) for value in held]
        return min(max([3, *fine]), FINEST_KG)
    if kind == SHARE:
        return 1
    if kind == ENERGY:
        return 3
    return min(max([0, *(_decimals(Decimal(repr(value))) for value in held)]), 3)


def _decimals(number: Decimal) -> int:
    return -int(number.normalize().as_tuple().exponent)


def shown(value: Cell, kind: str, decimals: int, mark: str = ".") -> str:
    """Return a value as people read it, without its unit.

    Parameters
    ----------
    value : int, float, str or None
        In the unit of its kind: mg, a share of 1, kWh, …
    kind : str
        One of ``recycling.records.reports.documents.KINDS``.
    decimals : int
        Digits after the mark.
    mark : str
        The decimal mark.

    Examples
    --------
    >>> shown(4_310_000, "mass", 3), shown(-1, "mass", 6), shown(0.125, "share", 1, ",")
    ('4.310', '−0.000001', '12,5')
    >>> shown("caps", "text", 0), shown(None, "mass", 3), shown(12_500, "number", 0)
    ('caps', '–', '12\u202f500')
    """
    if value is None:
        return NOTHING
    if kind in (TEXT, DAY) or isinstance(value, str):
        return str(value)
    scale = {MASS: -6, SHARE: 2}.get(kind, 0)
    exact = Decimal(repr(value)).scaleb(scale)
    written = f"{exact:,.{decimals}f}".replace(",", "\u202f").replace(".", mark)
    bare = written.lstrip("-")
    return f"−{bare}" if exact < 0 and bare.strip(f"0{mark}\u202f") else bare


def day_text(day: date | str, months: Sequence[str]) -> str:
    """Return a date with the name of its month; a text that is no date stays as it is.

    Examples
    --------
    >>> day_text("2026-03-31", ["January", "February", "March"]), day_text("some day", ())
    ('31 March 2026', 'some day')
    """
    if isinstance(day, str):
        try:
            day = date.fromisoformat(day[:10])
        except ValueError:
            return str(day)
    return f"{day.day} {months[day.month - 1]} {day.year}"


def set_table(table: Table, words: FileWords) -> SetTable:
    """Return a table with every cell as text, each column at its own number of decimals.

    Of a long one the first rows, how many more there are, and the total, which is of all of them.
    """
    first = table.rows[:MOST_ROWS]
    left_out = len(table.rows) - len(first)
    whole = [*first, table.total] if table.total is not None else list(first)
    decimals = [
        decimals_for(column.kind, (row[place] for row in whole))
        for place, column in enumerate(table.columns)
    ]

    def text(cell: Cell, kind: str, places: int) -> str:
        if kind == DAY and cell:
            return day_text(str(cell), words.months)
        return shown(cell, kind, places, words.decimal)

    def texts(row: tuple[Cell, ...]) -> tuple[str, ...]:
        return tuple(
            text(cell, column.kind, places)
            for cell, column, places in zip(row, table.columns, decimals, strict=True)
        )

    hows = dict(words.hows)
    columns = tuple(
        SetColumn(one.title, unit_of(one), hows.get(one.how, one.how), one.kind not in (TEXT, DAY))
        for one in table.columns
    )
    total = None
    if table.total is not None:
        cells = texts(tuple("" if one is None else one for one in table.total))
        total = cells if cells[0] else (words.total, *cells[1:])
    more = words.more_rows.format(number=shown(left_out, "number", 0)) if left_out else ""
    return SetTable(table.key, table.caption, columns, tuple(map(texts, first)), total, more)


def set_fact(fact: Fact, words: FileWords) -> SetFact:
    """Return a fact as text, rounded to two significant digits of its uncertainty (GUM, 7.2.6)."""
    decimals = decimals_for(fact.kind, [fact.value])
    if spread_of(fact):
        decimals = _sure_decimals(fact)
    value = shown(fact.value, fact.kind, decimals, words.decimal)
    if fact.kind == DAY and fact.value:
        value = day_text(str(fact.value), words.months)
    unit = unit_of(fact)
    return SetFact(
        fact.key,
        fact.title,
        f"{value} {unit}" if unit and fact.value is not None else value,
        uncertainty_text(fact, words),
        dict(words.hows).get(fact.how, fact.how),
        noted(fact, words),
    )


def uncertainty_text(fact: Fact, words: FileWords) -> str:
    """Return what stands behind ± in the unit of its value, with two significant digits.

    A fact without one gives an empty text.
    """
    if spread_of(fact) is None:
        return ""
    written = f"± {_scaled(fact):.{_sure_decimals(fact)}f} {unit_of(fact)}".rstrip()
    return written.replace(".", words.decimal)


def noted(fact: Fact, words: FileWords) -> str:
    """Give the note of a fact, with what its half-interval rests on."""
    rests_on = fact.covered.said(words.decimal) if fact.covered else ""
    return " ".join(one for one in (fact.note, f"{rests_on}." if rests_on else "") if one)


def spread_of(fact: Fact) -> float | None:
    """Give what stands behind ±: the half-interval; of an older report the uncertainty."""
    if fact.covered is not None:
        return fact.covered.half
    return fact.uncertainty if isinstance(fact.uncertainty, int | float) else None


def uncertainty_head(facts: Iterable[Fact], words: FileWords) -> str:
    """Head the column of what stands behind ±, by the rules that made these facts."""
    return words.covers if any(one.covered for one in facts) else words.uncertainty


def _scaled(fact: Fact) -> float:
    """Give what stands behind ± in the unit that people read."""
    return (spread_of(fact) or 0.0) * {MASS: 1e-6, SHARE: 100}.get(fact.kind, 1)


def _sure_decimals(fact: Fact) -> int:
    """Give the decimals of two significant digits of a fact's uncertainty; its value has these."""
    scaled = abs(_scaled(fact))
    return min(max(1 - floor(log10(scaled)), 0), FINEST_KG) if scaled else 0
