"""Bars, waterfall and months for the page, as plain dicts that the chart library draws.

All masses in kg on the axes; hatchings by role, so that colour is never alone.
"""

from __future__ import annotations

from typing import Any

from recycling.figures.sankey import base_layout, token
from recycling.figures.svg import MG_IN_KG, style_of
from recycling.records.drawings import Bars, Months, Waterfall

PATTERNS = {
    "none": "",
    "full": "",
    "rising": "/",
    "level": "-",
    "crossed": "x",
    "dotted": ".",
    "upright": "|",
    "empty": "",
}


def _marker(roles: list[str]) -> dict[str, Any]:
    """Return colours and hatchings of bars by their roles."""
    styles = [style_of(role) for role in roles]
    return {
        "color": [token(role, 0.15 if style_of(role).hatch == "empty" else None) for role in roles],
        "pattern": {
            "shape": [PATTERNS[style.hatch] for style in styles],
            "size": 7,
            "solidity": 0.35,
            "fillmode": "overlay",
            "fgcolor": "--sheet",
        },
        "line": {"width": 1.5, "color": [token(role) for role in roles]},
    }


def _kilograms(**more: Any) -> dict[str, Any]:
    axis = {
        "title": {"text": "kg"},
        "gridcolor": "--hair",
        "zerolinecolor": "--ink",
        "zerolinewidth": 2,
        "automargin": True,
        "fixedrange": True,
    }
    return {**axis, **more}


def _names(**more: Any) -> dict[str, Any]:
    return {
        "automargin": True,
        "fixedrange": True,
        "type": "category",
        "ticklabelstandoff": 8,
        **more,
    }


def bars(record: Bars) -> dict[str, Any]:
    """Return horizontal bars in kg with whiskers of one standard uncertainty.

    Raises ValueError for an unknown role.

    Examples
    --------
    >>> from recycling.records.drawings import Bar
    >>> bars(Bars("Stock", "Flake.", (Bar("flake", 2_500_000, "product"),)))["data"][0]["x"]
    [2.5]
    """
    trace = {
        "type": "bar",
        "orientation": "h",
        "x": [bar.mass_mg / MG_IN_KG for bar in record.bars],
        "y": [bar.label for bar in record.bars],
        "marker": _marker([bar.role for bar in record.bars]),
        "error_x": {
            "type": "data",
            "array": [(bar.u_mass_mg or 0) / MG_IN_KG for bar in record.bars],
            "color": "--ink",
            "visible": any(bar.u_mass_mg for bar in record.bars),
        },
        "hovertemplate": "%{y}: %{x:,.3f} kg<extra></extra>",
    }
    layout = base_layout(
        height=110 + 40 * len(record.bars),
        xaxis=_kilograms(),
        yaxis=_names(autorange="reversed"),
        meta={"title": record.title, "finding": record.finding},
    )
    return {"data": [trace], "layout": layout}


def waterfall(record: Waterfall) -> dict[str, Any]:
    """Return a lying waterfall in kg as bars with a base, totals on zero.

    Raises ValueError for an unknown role.

    Examples
    --------
    >>> from recycling.records.drawings import Step
    >>> steps = (Step("in", 5_000_000, "input", True), Step("caps", -500_000, "side"))
    >>> figure = waterfall(Waterfall("Sort", "A tenth is caps.", steps))
    >>> figure["data"][0]["base"], figure["data"][0]["x"]
    ([0.0, 5.0], [5.0, -0.5])
    """
    bases, level = [], 0
    for step in record.steps:
        bases.append(0 if step.total else level)
        level = step.change_mg if step.total else level + step.change_mg
    trace = {
        "type": "bar",
        "orientation": "h",
        "base": [base / MG_IN_KG for base in bases],
        "x": [step.change_mg / MG_IN_KG for step in record.steps],
        "y": [step.label for step in record.steps],
        "customdata": [step.change_mg / MG_IN_KG for step in record.steps],
        "marker": _marker([step.role for step in record.steps]),
        "hovertemplate": "%{y}: %{customdata:,.3f} kg<extra></extra>",
    }
    layout = base_layout(
        height=110 + 40 * len(record.steps),
        xaxis=_kilograms(),
        yaxis=_names(autorange="reversed"),
        meta={"title": record.title, "finding": record.finding},
    )
    return {"data": [trace], "layout": layout}


def months(record: Months) -> dict[str, Any]:
    """Return stacked bars by month in kg, one trace for each series.

    Raises ValueError for an unknown role or a series that is not as long as the months.

    Examples
    --------
    >>> from recycling.records.drawings import MonthSeries
    >>> series = MonthSeries("filament", "product", (1_000_000, 2_000_000))
    >>> months(Months("Output", "It doubled.", ("May", "June"), (series,)))["data"][0]["y"]
    [1.0, 2.0]
    """
    traces = []
    for series in record.series:
        if len(series.masses_mg) != len(record.months):
            raise ValueError(f"{series.label!r} must have one mass for each month")
        traces.append(
            {
                "type": "bar",
                "name": series.label,
                "x": list(record.months),
                "y": [mass_mg / MG_IN_KG for mass_mg in series.masses_mg],
                "marker": _marker([series.role] * len(record.months)),
                "hovertemplate": "%{x}, %{fullData.name}: %{y:,.3f} kg<extra></extra>",
            }
        )
    layout = base_layout(
        height=380,
        barmode="relative",
        legend={"orientation": "h", "y": -0.2},
        xaxis=_names(),
        yaxis=_kilograms(),
        meta={"title": record.title, "finding": record.finding},
    )
    return {"data": traces, "layout": layout}
