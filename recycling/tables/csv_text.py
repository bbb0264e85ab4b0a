"""Rows as CSV text that a spreadsheet opens without running anything in it.

Written as RFC 4180 has it: commas, quotation marks doubled, lines ended by CR LF.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from itertools import chain

from recycling.records.balance.covered import Covered

MG_IN_KG = 1_000_000
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def mg_as_kilograms(mass_mg: float) -> Decimal | None:
    """Return a mass that is not whole in kg, to the milligram."""
    return kilograms(round(mass_mg))


def kilograms(mass_mg: int | None) -> Decimal | None:
    """Return a mass in kg with nothing lost: six decimals, down to the milligram.

    Parameters
    ----------
    mass_mg : int or None
        Mass in mg; None where there is none.

    Examples
    --------
    >>> kilograms(-1_000_001), kilograms(None)
    (Decimal('-1.000001'), None)
    """
    return None if mass_mg is None else Decimal(mass_mg).scaleb(-6).quantize(Decimal("0.000001"))


def safe_cell(value: object) -> object:
    """Return what may stand in a cell: a text that a spreadsheet would run gets an apostrophe.

    Numbers stay numbers, so that a figure below zero can be added up; times are written as
    ISO 8601 with their offset, yes and no as words.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-"), safe_cell(-3), safe_cell(None), safe_cell(True)
    ("'=1+1", "'-", -3, '', 'yes')
    """
    if isinstance(value, str):
        return f"'{value}" if value.lstrip(" ").startswith(STARTS_A_FORMULA) else value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, int | float | Decimal):
        return value
    return safe_cell(str(value))


def csv_lines(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield the lines of a CSV file, the columns' names first.

    Parameters
    ----------
    columns : sequence of str, shape (n,)
        Names, with their unit.
    rows : iterable of sequences, each of shape (n,)
        Cells as they are.

    Raises
    ------
    ValueError
        When a row has more or fewer cells than there are columns.

    Examples
    --------
    >>> "".join(csv_lines(("source", "mass, kg"), [("@home", kilograms(1_500_000))]))
    'source,"mass, kg"\\r\\n\\'@home,1.500000\\r\\n'
    """
    paper = io.StringIO()
    writer = csv.writer(paper)
    for row in chain((columns,), rows):
        if len(row) != len(columns):
            raise ValueError(f"a row of {len(row)} cells under {len(columns)} columns")
        writer.writerow([safe_cell(cell) for cell in row])
        yield paper.getvalue()
        paper.seek(0)
        paper.truncate()


def covered_columns(unit: str = "", of: str = "") -> tuple[str, ...]:
    """Name the columns of one figure, in its unit.

    Examples
    --------
    >>> covered_columns("kg")
    ('95 % half-interval, kg', 'k', 'degrees of freedom')
    """
    after = f" of {of}" if of else ""
    half = f"95 % half-interval{after}"
    return f"{half}, {unit}" if unit else half, f"k{after}", f"degrees of freedom{after}"


def covered_cells(one: Covered | None, write: Callable[[float], object]) -> tuple[object, ...]:
    """Give their cells; no degrees of freedom where nothing was estimated from few.

    Examples
    --------
    >>> covered_cells(Covered(2.8, 1.0, 2.776, 4.0), str)
    ('2.8', '2.776', '4')
    """
    if one is None:
        return None, None, None
    return write(one.half), f"{one.k:.4g}", None if one.freedom is None else f"{one.freedom:.4g}"
