"""Sheets of cells, as a file has them: what stands in each, and what the file says about it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple


class Stored(NamedTuple):
    """A number that a spreadsheet holds as such, with the unit of its number format."""

    value: Decimal
    unit: str = ""


class Clock(NamedTuple):
    """A date that a spreadsheet holds as such, by the wall clock; `timed` with its time of day."""

    at: datetime
    timed: bool


class Unread(NamedTuple):
    """A cell that cannot be read: by its code in the reference of errors."""

    code: str


Cell = str | Stored | Clock | Unread


class Row(NamedTuple):
    """A row of a sheet by its number, from 1."""

    number: int
    cells: Sequence[Cell]
    hidden: bool = False


@dataclass(frozen=True)
class Sheet:
    """A sheet: its name, its rows, and the cells that are merged (row, column, rows, columns).

    `parted` are the cells of a text, where one that is too many may have shifted the others.
    """

    name: str
    rows: Sequence[Row]
    hidden: bool = False
    merged: Sequence[tuple[int, int, int, int]] = field(default_factory=tuple)
    parted: bool = False


def told(cell: Cell) -> Any:
    """Write a cell as plain data."""
    if isinstance(cell, Stored):
        return ["n", str(cell.value), cell.unit]
    if isinstance(cell, Clock):
        return ["d", cell.at.isoformat(), cell.timed]
    return ["x", cell.code] if isinstance(cell, Unread) else cell


def _heard(data: Any) -> Cell:
    if isinstance(data, str):
        return data
    if data[0] == "n":
        return Stored(Decimal(data[1]), data[2])
    if data[0] == "d":
        return Clock(datetime.fromisoformat(data[1]), data[2])
    return Unread(data[1])


def sheets_kept(sheets: Iterable[Sheet]) -> str:
    """Write sheets as JSON, which `sheets_again` reads.

    Examples
    --------
    >>> one = Sheet("May", [Row(1, ["a", Stored(Decimal("4.31"), "kg")])])
    >>> sheets_again(sheets_kept([one])) == [one]
    True
    """
    return json.dumps(
        [
            {
                "name": one.name,
                "hidden": one.hidden,
                "merged": list(one.merged),
                "rows": [[row.number, row.hidden, *map(told, row.cells)] for row in one.rows],
            }
            for one in sheets
        ],
        ensure_ascii=False,
        separators=(",", ":"),
    )


def sheets_again(text: str) -> list[Sheet]:
    """Read what `sheets_kept` wrote."""
    return [
        Sheet(
            one["name"],
            [Row(row[0], [_heard(cell) for cell in row[2:]], row[1]) for row in one["rows"]],
            one["hidden"],
            tuple((row, column, rows, columns) for row, column, rows, columns in one["merged"]),
        )
        for one in json.loads(text)
    ]


def shown(cell: Cell) -> str:
    """Say what stands in a cell, for people.

    Examples
    --------
    >>> shown(Stored(Decimal("4.310"), "kg")), shown(Unread("formula-without-value"))
    ('4.310 kg', '…')
    """
    if isinstance(cell, Stored):
        return f"{cell.value} {cell.unit}".strip()
    if isinstance(cell, Clock):
        return cell.at.strftime("%Y-%m-%d %H:%M" if cell.timed else "%Y-%m-%d")
    return "…" if isinstance(cell, Unread) else cell


def filled(cell: Cell) -> bool:
    """Whether anything stands in a cell: dashes alone are nothing."""
    return bool(cell.strip(" \t\u00a0\u202f-–—")) if isinstance(cell, str) else True
