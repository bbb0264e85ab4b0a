"""The masses of a list in whole milligrams: in one notation, with the unit that each has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

from recycling.tables.lists.asking import Asking, Choice
from recycling.tables.lists.cells import Stored, shown
from recycling.tables.lists.folded import folded
from recycling.tables.lists.heads import Column
from recycling.tables.lists.known import Known
from recycling.tables.lists.mass_doubts import Mass, check_totals, plausible, slack
from recycling.tables.lists.numbers import COMMA, POINT, Typed, marks_of, typed, value_of
from recycling.tables.lists.table import MASSES, Line, Table, Totals, check_unread, is_ditto
from recycling.tables.lists.words import GROSS, MASS, MG, TARE, UNIT, UNIT_WORDS
from shared.said import say
from shared.units import LARGEST_MG, show_mass

ASKED_UNITS = ("kg", "g", "lb")
MARKS = {"point": POINT, "comma": COMMA}


class Figure(NamedTuple):
    """A mass as it stands in a cell: typed, or stored as a number; its unit, if told."""

    line: Line
    column: Column
    said: Typed | None
    value: Decimal | None
    unit: str


def masses_of(
    lines: Sequence[Line], table: Table, totals: Sequence[Totals], known: Known, asking: Asking
) -> dict[int, Mass] | None:
    """Read the mass of every row that has one; None while something is asked."""
    figures = _figures(lines, table, asking)
    units = _units(figures, asking)
    if units is None:
        return None
    notation = _notation(figures, units, known, asking)
    if notation is None:
        return None
    read = _nets(lines, table, figures, units, notation, asking)
    check_totals(lines, table, totals, read, units, notation, asking)
    return plausible(table, read, known, asking)


def _figures(lines: Sequence[Line], table: Table, asking: Asking) -> list[Figure]:
    columns, unit_columns = table.of(*MASSES), table.of(UNIT)
    figures = []
    for line in lines:
        beside = _unit_beside(line, unit_columns, asking)
        for column in columns:
            cell = line.at(column.place)
            if is_ditto(cell):
                cell = line.above.get(column.field, "")
            if cell == "" or check_unread(line, column, asking):
                continue
            if isinstance(cell, Stored):
                unit = cell.unit or beside or column.unit
                figures.append(Figure(line, column, None, cell.value, unit))
                continue
            said = typed(cell) if isinstance(cell, str) else None
            if said is None:
                words = say(
                    "“{text}” is not a mass. Type it like 1.234 kg or 350 g.", text=shown(cell)[:40]
                )
                asking.wrong("mass-unreadable", words, line.number, column.head)
                continue
            unit = said.unit or beside or column.unit
            figures.append(Figure(line, column, said, said.ounces, unit))
    return figures


def _unit_beside(line: Line, columns: Sequence[Column], asking: Asking) -> str:
    for column in columns:
        cell = line.at(column.place)
        if is_ditto(cell):
            cell = line.above.get(UNIT, "")
        if not cell:
            continue
        unit = UNIT_WORDS.get(folded(shown(cell)), "")
        if not unit:
            words = say(
                "“{unit}” is not a unit of mass here: mg, g, kg, oz, lb.", unit=shown(cell)[:40]
            )
            asking.wrong("mass-unit-unknown", words, line.number, column.head)
        return unit
    return ""


def _units(figures: Sequence[Figure], asking: Asking) -> Mapping[str, str] | None:
    """Give the unit of what has none of its own, by column; asked once for the list."""
    bare = [one for one in figures if not one.unit]
    if not bare:
        return {}
    first = bare[0]
    text = first.said.digits if first.said else str(first.value)
    unit = asking.ask(
        "unit",
        "unit",
        say("No unit stands with the masses under “{head}”. Which is it?", head=first.column.head),
        [Choice(one, one, f"{text} {one}") for one in ASKED_UNITS],
        first.line.number,
        first.column.head,
    )
    return None if unit is None else dict.fromkeys({one.column.head for one in bare}, unit)


def _mg(figure: Figure, units: Mapping[str, str], decimal: str) -> Decimal:
    value = figure.value
    if value is None:
        assert figure.said is not None
        value = value_of(figure.said.digits, decimal)
    return value * MG[figure.unit or units[figure.column.head]]


def _notation(
    figures: Sequence[Figure], units: Mapping[str, str], known: Known, asking: Asking
) -> str | None:
    """Find the decimal mark of the masses; asked where the column leaves it open."""
    typed_ones = [one for one in figures if one.said and one.said.ounces is None]
    marks = marks_of((place, one.said.digits) for place, one in enumerate(typed_ones) if one.said)
    for place in marks.broken:
        one = typed_ones[place]
        words = say("“{text}” is no number in any notation.", text=one.said and one.said.digits)
        asking.wrong("number-unreadable", words, one.line.number, one.column.head)
    if marks.broken:
        return None
    if marks.mixed:
        for place in sorted({*marks.decimal.values(), *marks.thousands.values()}):
            one = typed_ones[place]
            words = say(
                "The numbers of this column are written in two notations; this is one:"
                " “{text}”. Write all in one.",
                text=one.said and one.said.digits,
            )
            asking.wrong("number-mixed", words, one.line.number, one.column.head)
        return None
    readings = list(marks.readings)
    if len(readings) == 1:
        return readings[0]
    undecided = [typed_ones[place] for places in marks.open.values() for place in places]
    within = [
        mark
        for mark in readings
        if all(_mg(one, units, mark) <= known.largest_mg for one in undecided)
    ]
    agreeing = [mark for mark in within or readings if _agrees(figures, units, mark)]
    left = agreeing if len(agreeing) == 1 else within
    if len(left) == 1:
        return left[0]
    first = undecided[0]
    answer = asking.ask(
        "number",
        "number",
        say(
            "The masses under “{head}” can be read in two ways. Which is right?",
            head=first.column.head,
        ),
        [_reading(first, units, mark) for mark in (POINT, COMMA)],
        first.line.number,
        first.column.head,
    )
    return MARKS.get(answer or "")


def _reading(figure: Figure, units: Mapping[str, str], mark: str) -> Choice:
    assert figure.said is not None
    shown_mass = show_mass(int(_mg(figure, units, mark)))
    unit = figure.unit or units[figure.column.head]
    example = f"{figure.said.digits} {unit} = {shown_mass}"
    if mark == POINT:
        return Choice("point", say("The point parts decimals, the comma thousands"), example)
    return Choice("comma", say("The comma parts decimals, the point thousands"), example)


def _by_row(
    figures: Sequence[Figure], units: Mapping[str, str], mark: str
) -> dict[int, dict[str, list[tuple[Figure, Decimal]]]]:
    rows: dict[int, dict[str, list[tuple[Figure, Decimal]]]] = {}
    for one in figures:
        said = rows.setdefault(one.line.number, {})
        said.setdefault(one.column.field, []).append((one, _mg(one, units, mark)))
    return rows


def _agrees(figures: Sequence[Figure], units: Mapping[str, str], mark: str) -> bool:
    """Whether gross less tare is net in every row that has all three, and one has."""
    told = [row for row in _by_row(figures, units, mark).values() if set(row) >= set(MASSES)]
    return bool(told) and all(
        abs(row[GROSS][0][1] - row[TARE][0][1] - row[MASS][0][1]) <= slack(row[MASS][0][1])
        for row in told
    )


def _nets(
    lines: Sequence[Line],
    table: Table,
    figures: Sequence[Figure],
    units: Mapping[str, str],
    mark: str,
    asking: Asking,
) -> dict[int, Mass]:
    """Give each row its net mass; gross less tare where no net stands, and all must agree."""
    rows = _by_row(figures, units, mark)
    wrong = {one.pointer.split("/")[1] for one in asking.found.problems}
    head = next(iter(table.of(MASS, GROSS))).head
    read: dict[int, Mass] = {}
    for line in lines:
        said = rows.get(line.number, {})
        net, gross, tare = (said.get(one, []) for one in (MASS, GROSS, TARE))
        if str(line.number) in wrong and not net:
            continue
        if net and any(abs(one[1] - net[0][1]) > 1 for one in net[1:]):
            words = say("Two masses stand in this row, and they differ.")
            asking.wrong("mass-differs", words, line.number, head)
        elif (
            net and gross and tare and abs(gross[0][1] - tare[0][1] - net[0][1]) > slack(net[0][1])
        ):
            words = say(
                "Gross less tare is {difference}, but net stands as {net}.",
                difference=show_mass(int(gross[0][1] - tare[0][1])),
                net=show_mass(int(net[0][1])),
            )
            asking.wrong("mass-differs", words, line.number, net[0][0].column.head)
        elif net or (gross and tare):
            first = net[0] if net else (gross[0][0], gross[0][1] - tare[0][1])
            _keep(read, line, *first, asking)
        else:
            asking.wrong("mass-missing", say("Give the mass, once."), line.number, head)
    return read


def _keep(read: dict[int, Mass], line: Line, figure: Figure, mg: Decimal, asking: Asking) -> None:
    whole = int(mg.to_integral_value(ROUND_HALF_EVEN))
    negative = figure.said is not None and figure.said.below_zero
    if whole <= 0 or negative:
        words = say("A mass must be more than zero.")
        asking.wrong("mass-not-positive", words, line.number, figure.column.head)
    elif whole > LARGEST_MG:
        words = say("No mass in the book is larger than 1 000 000 kg.")
        asking.wrong("mass-too-large", words, line.number, figure.column.head)
    else:
        read[line.number] = Mass(whole, bool(figure.said and figure.said.about))
