"""Parts of interactive charts: colours of the page by name, hatchings by role, axes and points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from recycling.figures.svg import role_class, style_of

PATTERNS = {
    "none": "",
    "full": "",
    "rising": "/",
    "falling": "\\",
    "level": "-",
    "crossed": "x",
    "dotted": ".",
    "upright": "|",
    "empty": "",
}
"""The chart library's name of each hatching. "Empty" is told by its pale filling, as on paper."""


def token(name: str, share: float | None = None) -> str:
    """Return the name of a colour of the page, at a share of its strength if one is given.

    Examples
    --------
    >>> token("ink"), token("role-waste", 0.5)
    ('var(--ink)', 'var(--role-waste/0.5)')
    """
    return f"var(--{name})" if share is None else f"var(--{name}/{share:g})"


def role_token(role: str, share: float | None = None) -> str:
    """Return the name of a role's colour; raises ValueError for a role that is none.

    Examples
    --------
    >>> role_token("side")
    'var(--role-side)'
    """
    style_of(role)
    return token(role_class(role), share)


def marker(roles: Sequence[str]) -> dict[str, Any]:
    """Return colours and hatchings of bars by their roles."""
    styles = [style_of(role) for role in roles]
    empty = [style.hatch == "empty" for style in styles]
    return {
        "color": [
            role_token(role, 0.15 if pale else None)
            for role, pale in zip(roles, empty, strict=True)
        ],
        "pattern": {
            "shape": [PATTERNS[style.hatch] for style in styles],
            "size": 7,
            "solidity": 0.35,
            "fillmode": "overlay",
            "fgcolor": token("sheet"),
        },
        "line": {"width": 1.5, "color": [role_token(role) for role in roles]},
    }


def kilograms() -> dict[str, Any]:
    return {
        "title": {"text": "kg"},
        "gridcolor": token("hair"),
        "zerolinecolor": token("ink"),
        "zerolinewidth": 2,
        "automargin": True,
        "fixedrange": True,
    }


def names(**more: Any) -> dict[str, Any]:
    fixed = {"automargin": True, "fixedrange": True, "type": "category", "ticklabelstandoff": 8}
    return {**fixed, **more}


def points(
    labels: list[str], values: Sequence[float | None], outside: list[bool], name: str
) -> dict[str, Any]:
    """What is outside is a large open diamond, so that its shape tells it too."""
    return {
        "mode": "lines+markers",
        "name": name,
        "x": labels,
        "y": list(values),
        "line": {"color": token("ink", 0.5), "width": 1.5},
        "marker": {
            "color": token("ink"),
            "size": [14 if out else 8 for out in outside],
            "symbol": ["diamond-open" if out else "circle" for out in outside],
            "line": {"width": 2, "color": token("ink")},
        },
        "hovertemplate": "%{x}: %{y:.2f} %<extra></extra>",
    }


def rule(axis: str, at: float, dash: str) -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": axis,
        "y0": at,
        "y1": at,
        "line": {"color": token("ink"), "width": 1.5, "dash": dash},
    }
