"""What is doubtful of the masses of a list: its own total, and what is too heavy or too light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Stored
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.numbers import marks_of, typed, value_of
from recycling.tables.lists.table import Line, Table, Totals
from recycling.tables.lists.words import GROSS, MASS, MG
from shared.said import say
from shared.units import show_mass

LIGHT = 300
"""A mass so many times below the middle of its list is asked about: likely of another unit."""
THOUSAND = 1_000
AGREES = Decimal("0.0051")
"""By how much of a total, about 1 in 200, what a list adds up itself may differ by rounding."""


@dataclass(frozen=True)
class Mass:
    """The mass of a row in mg, and whether the list says that it is an estimate."""

    mg: int
    about: bool = False


def slack(mg: Decimal) -> Decimal:
    """By how much two ways to a mass may differ, in mg."""
    return max(abs(mg) * AGREES, Decimal(1))


def check_totals(
    lines: Sequence[Line],
    table: Table,
    totals: Sequence[Totals],
    read: Mapping[int, Mass],
    units: Mapping[str, str],
    mark: str,
    asking: Asking,
) -> None:
    """Ask once where the list's own total is neither the sum of its part nor of all above."""
    before = 0
    for total in totals:
        sums = [
            sum(read[one.number].mg for one in part if one.number in read)
            for part in (lines[before : total.since], lines[: total.since])
        ]
        before = total.since
        stated = [
            _stated(cell, next(one for one in table.columns if one.place == place), units, mark)
            for place, cell in total.masses.items()
            if any(one.place == place and one.field == MASS for one in table.columns)
        ]
        wrong = [one for one in stated if one is not None and not _adds_up(one, sums)]
        if wrong and not asking.found.any:
            asking.ask(
                "total",
                "total",
                say(
                    "The list's own total says {stated}, its rows add up to {sum}."
                    " Is a row missing, or read wrongly?",
                    stated=show_mass(int(wrong[0])),
                    sum=show_mass(sums[1]),
                ),
                [Choice("go on", say("The rows are right; the total is not"))],
                total.number,
            )


def _stated(cell: object, column: Column, units: Mapping[str, str], mark: str) -> Decimal | None:
    """Read the figure of a total; None where it cannot be."""
    if isinstance(cell, Stored):
        unit = cell.unit or column.unit or units.get(column.head, "")
        return cell.value * MG[unit] if unit else None
    said = typed(cell) if isinstance(cell, str) else None
    if said is None or said.ounces is not None:
        return None
    unit = said.unit or column.unit or units.get(column.head, "")
    found = marks_of([(0, said.digits)])
    if not unit or found.broken or found.mixed or (found.decimal and mark not in found.decimal):
        return None
    return value_of(said.digits, mark) * MG[unit]


def _adds_up(stated: Decimal, sums: Sequence[int]) -> bool:
    return any(abs(stated - one) <= slack(stated) for one in sums)


def plausible(
    table: Table, read: dict[int, Mass], known: Known, asking: Asking
) -> dict[int, Mass] | None:
    """Ask once about masses above every scale, and about those far below the middle of the list."""
    if not read:
        return read
    middle = median(one.mg for one in read.values())
    odd = {
        "heavy": [row for row, one in read.items() if one.mg > known.largest_mg],
        "light": [row for row, one in read.items() if one.mg * LIGHT < middle],
    }
    head = next(iter(table.of(MASS, GROSS))).head
    asked = False
    for kind, rows in odd.items():
        if not rows:
            continue
        answer = _doubt(kind, rows, read, known, head, asking)
        asked = asked or answer is None
        for row in rows:
            if answer == "leave":
                del read[row]
                asking.skipped[row] = "left out"
            elif answer == "other":
                factor = (1, THOUSAND) if kind == "heavy" else (THOUSAND, 1)
                read[row] = Mass(read[row].mg * factor[0] // factor[1], read[row].about)
    return None if asked else read


def _doubt(
    kind: str,
    rows: Sequence[int],
    read: Mapping[int, Mass],
    known: Known,
    head: str,
    asking: Asking,
) -> str | None:
    first = read[rows[0]].mg
    other = first // THOUSAND if kind == "heavy" else first * THOUSAND
    text = (
        say(
            "Row {row} says {mass}: more than the largest scale holds.",
            row=rows[0],
            mass=show_mass(first),
        )
        if kind == "heavy"
        else say(
            "Row {row} says {mass}: far less than the others.", row=rows[0], mass=show_mass(first)
        )
    )
    choices = [
        Choice("other", say("It is of another unit"), show_mass(other)),
        Choice("right", say("It is right"), show_mass(first)),
        Choice("leave", say("Leave such rows out")),
    ]
    factor = Decimal(THOUSAND) if kind == "light" else 1 / Decimal(THOUSAND)
    within = all(0 < read[row].mg * factor <= known.largest_mg for row in rows)
    return asking.ask(kind, "plausible", text, choices if within else choices[1:], rows[0], head)
