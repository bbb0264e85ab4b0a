"""Columns of a file that say how sure a figure is: its 95 % half-interval with k and ν."""

from __future__ import annotations

from collections.abc import Callable

from recycling.records.balance.covered import Covered

Columns = tuple[str, ...]


def covered_columns(unit: str = "", of: str = "") -> Columns:
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
