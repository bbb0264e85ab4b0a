"""The one family of shapes for lot forms, of signs for states and hazards, of lines for roles.

A shape is drawn on a square of 24 by 24 units from *fills* (areas) and *lines* (strokes of 2
units), both in the colour of the text around it, so that it holds on a screen, a label and a
photocopy.
The family has three rules: hollow is as it came, filled is ready for the next stage; many small
pieces are many small marks; what is waste or side stream has a silhouette of its own.

`python -m recycling.figures.shapes` writes the sprite that pages use.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from pathlib import Path

SPRITE = Path(__file__).parent.parent / "web" / "static" / "look" / "shapes.svg"
SIZE = 24


@dataclass(frozen=True, slots=True)
class Shape:
    """One drawing: `key`, areas and strokes as SVG path data on a 24 by 24 square."""

    key: str
    fills: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LineStyle:
    """How a role is drawn.

    `dashes` are lengths in multiples of the line's width, none for a line without gaps; `double`
    draws two thin lines for one; `hatch` names the filling of areas in figures; `colour` and
    `dark_colour` are for light and dark grounds; `plotly` is the nearest dash of that library.
    """

    key: str
    dashes: tuple[float, ...]
    round_ends: bool
    double: bool
    hatch: str
    colour: str
    dark_colour: str
    plotly: str

    def dash_array(self, width: float) -> str:
        """Return SVG's `stroke-dasharray` for a line of this width, "none" without gaps.

        Examples
        --------
        >>> LINES["side"].dash_array(2), LINES["product"].dash_array(2)
        ('10 4', 'none')
        """
        return " ".join(f"{length * width:g}" for length in self.dashes) or "none"


def dot(x: float, y: float, radius: float) -> str:
    """Return the path of a full circle, all in units of the square.

    Examples
    --------
    >>> dot(12, 12, 3)
    'M9 12a3 3 0 1 0 6 0a3 3 0 1 0-6 0z'
    """
    across = 2 * radius
    return f"M{x - radius:g} {y:g}a{radius:g} {radius:g} 0 1 0 {across:g} 0" + (
        f"a{radius:g} {radius:g} 0 1 0-{across:g} 0z"
    )


def regular(corners: int, radius: float, turn: float = 0.0) -> str:
    """Return the path of a regular polygon about the middle, turned by `turn` of a full circle.

    Examples
    --------
    >>> regular(4, 10)
    'M12 2L22 12L12 22L2 12z'
    """
    angles = [2 * pi * (corner / corners + turn) for corner in range(corners)]
    points = [
        f"{round(12 + radius * sin(angle), 2):g} {round(12 - radius * cos(angle), 2):g}"
        for angle in angles
    ]
    return "M" + "L".join(points) + "z"


_BOTTLE = "M9.5 2h5v4l2.5 4v10a2 2 0 0 1-2 2H9a2 2 0 0 1-2-2V10l2.5-4z"
_PIECES = ("M3 8l5-5 4 4-5 5z", "M14 4l7 2-2 6-5-3z", "M8 15l7-2 4 5-6 4-6-2z")
_BALLS = (dot(12, 6.5, 4), dot(6.5, 16.5, 4), dot(17.5, 16.5, 4))
_DIAMONDS = ("M12 2l4 5-4 5-4-5z", "M7 12l4 5-4 5-4-5z", "M17 12l4 5-4 5-4-5z")
_GRAINS = tuple(dot(x, y, 1.5) for y in (5, 12, 19) for x in (5, 12, 19))
_CROSS = "M6.5 6.5l11 11M17.5 6.5l-11 11"
_RING = dot(12, 12, 9)

_FORMS = (
    Shape("bottles", lines=(_BOTTLE, "M7 13h10M7 17h10")),
    Shape("clean_bottles", fills=(_BOTTLE,)),
    Shape("cut_pieces", fills=("M7 3h14l-3 4.5H4z", "M7 9.75h14l-3 4.5H4z", "M7 16.5h14L18 21H4z")),
    Shape(
        "caps", lines=("M3 8h18v8a3 3 0 0 1-3 3H6a3 3 0 0 1-3-3z", "M8 12v3.5M12 12v3.5M16 12v3.5")
    ),
    Shape(
        "rings",
        lines=(dot(8.5, 8.5, 6), dot(15.5, 15.5, 6)),
    ),
    Shape(
        "labels",
        fills=("M20 14.5h-5.5V20z",),
        lines=("M4 4h16v10.5L14.5 20H4z", "M8 8.5h8M8 12.5h3"),
    ),
    Shape("reject", lines=("M3.5 3.5h17v17h-17z", "M3.5 3.5l17 17M20.5 3.5l-17 17")),
    Shape("flake", lines=_PIECES),
    Shape("oversize", lines=("M3 11l6-8 10 2 2.5 9-7.5 7.5-9-3z", "M8.5 15.5l7-7")),
    Shape("fines", fills=_GRAINS),
    Shape("dried_flake", fills=_PIECES),
    Shape("pellets", fills=_BALLS),
    Shape("purge_compound", lines=_DIAMONDS),
    Shape("heel", fills=("M9 15h6v6H9z",), lines=("M3 3h18l-6 9v9H9v-9z",)),
    Shape("changeover_scrap", fills=("M12 3a9 9 0 0 0 0 18z",), lines=(_RING,)),
    Shape("start_up_scrap", lines=("M2.5 19c4-12 6 4 9-3S5 4 8.5 4s7 8 9 3 4 8-2 9 2 5 6 3",)),
    Shape("filament", lines=(dot(12, 11, 8.5), dot(12, 11, 4.25), "M12 19.5h10")),
    Shape(
        "offcuts",
        lines=("M3 5l6 2.5M14 2.5l3.5 5M3.5 14l7-2.5M15 12l6 3M6 21l6-3M17 21.5l3.5-3",),
    ),
    Shape(
        "product",
        fills=("M12 2l9 5-9 5-9-5z",),
        lines=("M3 7v10l9 5 9-5V7", "M12 12v10"),
    ),
    Shape(
        "spool",
        fills=("M3 2h4v20H3z", "M17 2h4v20h-4z"),
        lines=("M10 6v12M14 6v12", "M7 6h10M7 18h10"),
    ),
    Shape("run", fills=(regular(6, 10.5, 1 / 12),)),
)

SHAPES: dict[str, Shape] = {shape.key: shape for shape in _FORMS}
"""Shapes of the lot forms of the book, of the spool, and of a run; by key with underscores."""

_TRIANGLE = "M12 2.5L22.5 21h-21z"
_STATES = (
    Shape("open", lines=(_RING,)),
    Shape("in_process", fills=("M12 12V3a9 9 0 0 1 9 9z",), lines=(_RING,)),
    Shape("closed", fills=(dot(12, 12, 10),)),
    Shape("voided", lines=(_RING, "M5.6 18.4L18.4 5.6")),
    Shape("held", fills=("M2 2h20v20H2zM8 7v10h2.5V7zM13.5 7v10H16V7z",)),
    Shape("released", fills=("M9.5 8l6.5 4-6.5 4z",), lines=("M3 3h18v18H3z",)),
    Shape("available", fills=("M4 4h16v11H4z",), lines=("M2 20h20",)),
    Shape("used_up", lines=("M5 5h14v10H5z", "M2 20h20")),
    Shape(
        "waiting",
        fills=("M7.5 20l4.5-5 4.5 5z",),
        lines=("M5 3h14M5 21h14", "M7 3c0 6 10 12 10 18M17 3c0 6-10 12-10 18"),
    ),
    Shape("due", lines=(_RING, "M12 6.5V12l4 2.5")),
    Shape("late", fills=(_TRIANGLE + "M11 9h2v6h-2zM11 16.5h2v2h-2z",)),
    Shape("sealed", fills=("M4 8h16v14H4z",), lines=("M4 4h16",)),
    Shape("opened", lines=("M4 10h16v11H4z", "M4 8l15-6")),
    Shape("good", lines=("M3 13l6 6L21 5",)),
    Shape("bad", lines=(_CROSS,)),
    Shape("gain", lines=(_RING, "M12 7v10M7 12h10")),
    Shape("loss", lines=(_RING, "M7 12h10")),
    Shape("unbalanced", lines=("M3 9h18M3 15h18", "M17 3L7 21")),
    Shape("recalculating", fills=("M17 2v7h-7z",), lines=("M17 6a8 8 0 1 0 3 6",)),
    Shape("draft", lines=("M6.2 5a9 9 0 0 1 11.6 0M21 12a9 9 0 0 1-5 8M8 20a9 9 0 0 1-5-8",)),
    Shape("frozen", lines=("M12 2v20M3.3 7l17.4 10M20.7 7L3.3 17",)),
    Shape("failed", fills=(regular(8, 10.5, 1 / 16) + "M11 6h2v8h-2zM11 16h2v2h-2z",)),
    Shape("other", fills=(dot(12, 12, 5),)),
)
_HAZARDS = (
    Shape("heat", lines=("M6 3c-4 6 4 6 0 12M12 3c-4 6 4 6 0 12M18 3c-4 6 4 6 0 12", "M3 20h18")),
    Shape("blades", lines=("M2 19h20", "M2 19l2-10 4 5 2-10 4 6 3-7 2 9 3 1z")),
    Shape("solvents", fills=("M12 2c3 5 7 8 7 13a7 7 0 0 1-14 0c0-5 4-8 7-13z",)),
    Shape(
        "fumes",
        lines=("M3 7c4-5 6 4 10 0s5-2 8 0M3 13c4-5 6 4 10 0s5-2 8 0M3 19c4-5 6 4 10 0s5-2 8 0",),
    ),
    Shape(
        "dust",
        fills=(
            *(dot(x, 20, 1.4) for x in (4, 9.5, 15, 20)),
            dot(7, 14, 1.4),
            dot(14, 13, 1.4),
            dot(11, 7, 1.4),
            dot(18, 8, 1.4),
        ),
    ),
    Shape("sharp", fills=("M3 21L20 2l1 5L8 21z",)),
    Shape("electricity", fills=("M14 1L4 14h7l-2 9L20 9h-7z",)),
    Shape("lifting", fills=("M4 13h16v9H4z",), lines=("M12 10V3M8 6l4-4 4 4",)),
)

SIGNS: dict[str, Shape] = {shape.key: shape for shape in _STATES + _HAZARDS}
"""Signs of states and of hazards, by key."""

STATES = tuple(shape.key for shape in _STATES)
HAZARDS = tuple(shape.key for shape in _HAZARDS)

_LINES = (
    LineStyle("input", (), False, False, "none", "#4b5e66", "#a9bac1", "solid"),
    LineStyle("product", (), False, False, "full", "#0a5c63", "#6fc9cf", "solid"),
    LineStyle("side", (5, 2), False, False, "rising", "#7d5200", "#e3b04b", "longdash"),
    LineStyle(
        "recirculate", (5, 2, 0.01, 2), True, False, "level", "#6a3d9c", "#c3a1ee", "longdashdot"
    ),
    LineStyle("waste", (0.01, 2), True, False, "crossed", "#5d534c", "#c2b6ad", "dot"),
    LineStyle("returned", (8, 3), False, False, "falling", "#3f6212", "#a3d977", "longdash"),
    LineStyle("loss", (1.5, 1.2), False, False, "dotted", "#22639f", "#8cbdf0", "dash"),
    LineStyle("heel", (), False, True, "upright", "#9c3a24", "#f0937c", "solid"),
    LineStyle("unaccounted", (3, 3), False, True, "empty", "#14201f", "#eef4f1", "dashdot"),
)

LINES: dict[str, LineStyle] = {line.key: line for line in _LINES}
"""Line styles by role: what goes in, outputs, losses, heels and the unaccounted rest."""


def shape_key(word: str) -> str:
    """Return the key of a form or state from its word: small letters, underscores.

    Examples
    --------
    >>> shape_key("Clean bottles"), shape_key("start-up scrap")
    ('clean_bottles', 'start_up_scrap')
    """
    return "_".join(word.lower().replace("-", " ").replace("_", " ").split())


def markup(shape: Shape) -> str:
    """Return a shape as SVG paths in `currentColor`, for a square of 24 by 24 units.

    Examples
    --------
    >>> markup(Shape("test", fills=("M0 0h4v4z",)))
    '<path fill="currentColor" fill-rule="evenodd" d="M0 0h4v4z"/>'
    """
    parts = [f'<path fill="currentColor" fill-rule="evenodd" d="{data}"/>' for data in shape.fills]
    parts += [
        '<path fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round"'
        f' stroke-linecap="round" d="{data}"/>'
        for data in shape.lines
    ]
    return "".join(parts)


def sprite() -> str:
    """Return the sprite: every shape as `form-<key>`, every sign as `sign-<key>`, with hyphens.

    Examples
    --------
    >>> 'id="form-clean-bottles"' in sprite(), 'id="sign-held"' in sprite()
    (True, True)
    """
    symbols = [
        f'<symbol id="{kind}-{key.replace("_", "-")}" viewBox="0 0 24 24">{markup(shape)}</symbol>'
        for kind, family in (("form", SHAPES), ("sign", SIGNS))
        for key, shape in family.items()
    ]
    return '<svg xmlns="http://www.w3.org/2000/svg">\n' + "\n".join(symbols) + "\n</svg>\n"


if __name__ == "__main__":
    SPRITE.write_text(sprite(), encoding="utf-8")
