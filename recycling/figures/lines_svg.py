"""Lines over months as SVG: each its own dashes and marks, so that they hold in black and white."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from recycling.figures.svg import INK, document, number, role_class, style_of, text

WIDTH, HEIGHT, LEFT, RIGHT, TOP, FOOT = 680.0, 260.0, 84.0, 16.0, 24.0, 40.0
STROKE = 2.5
ROLES = ("product", "side", "loss", "waste", "recirculate", "heel")
"""Roles that lines without one of their own take in turn."""

Words = Callable[[float], str]


@dataclass(frozen=True)
class Line:
    """One line: its words, its role, a value for each place; None where there is none."""

    label: str
    role: str
    values: tuple[float | None, ...]


def lines_svg(
    words: tuple[str, str],
    places: Sequence[str],
    lines: Sequence[Line],
    said: Words,
    key: str = "lines",
) -> str:
    """Return lines over places (months), with an axis from zero and a legend below.

    Parameters
    ----------
    words : tuple of str
        Title and finding.
    places : sequence of str, shape (n,)
        What stands under the axis.
    lines : sequence of Line
        Each with n values, in one unit.
    said : callable
        Says a value with its unit.
    key : str
        Unlike that of other drawings on the page.

    Raises
    ------
    ValueError
        For an unknown role, or a line that is not as long as the places.

    Examples
    --------
    >>> line = Line("yield", "product", (80.0, None, 90.0))
    >>> drawn = lines_svg(("Yield", "It rose."), ["May", "June", "July"], [line], "{:.0f} %".format)
    >>> drawn.count("<circle"), "100 %" in drawn
    (3, True)
    """
    for line in lines:
        if len(line.values) != len(places):
            raise ValueError(f"{line.label!r} must have one value for each of {len(places)} places")
    held = [value for line in lines for value in line.values if value is not None]
    low, high, step = _axis(min([0.0, *held]), max([0.0, *held]))
    across = (WIDTH - LEFT - RIGHT) / max(len(places) - 1, 1)

    def at(place: int, value: float) -> tuple[float, float]:
        up = (value - low) / (high - low) * (HEIGHT - TOP - FOOT)
        return LEFT + place * across, HEIGHT - FOOT - up

    body = _grid(low, high, step, said, at)
    every = ceil(len(places) / 12) or 1
    for place, name in enumerate(places):
        if place % every == 0:
            ends = {0: "start", len(places) - 1: "end"} if len(places) > 1 else {}
            x, _ = at(place, low)
            anchor = ends.get(place, "middle")
            body.append(text(x, HEIGHT - FOOT + 20, name, size=12, anchor=anchor))
    for row, line in enumerate(lines):
        body += _line(line, at)
        body += _named(line, HEIGHT + 10 + 24 * row)
    height = HEIGHT + 24 * len(lines)
    return document(key, WIDTH, height, words, "".join(body), "drawing-fit")


def _axis(low: float, high: float) -> tuple[float, float, float]:
    """Return the ends of an axis and its step, round numbers all."""
    span = (high - low) or 1.0
    power = 10.0 ** floor(log10(span / 4))
    step = next(one * power for one in (1, 2, 2.5, 5, 10) if span / (one * power) <= 5)
    return floor(low / step) * step, ceil(high / step) * step or step, step


def _grid(
    low: float,
    high: float,
    step: float,
    said: Words,
    at: Callable[[int, float], tuple[float, float]],
) -> list[str]:
    body = []
    for count in range(round((high - low) / step) + 1):
        value = low + count * step
        _, y = at(0, value)
        width = 2 if abs(value) < step / 1e6 else 1
        body.append(
            f'<path class="ink-line" fill="none" stroke="{INK}" stroke-width="{width}"'
            f' stroke-opacity="{1 if width == 2 else 0.2}"'
            f' d="M{number(LEFT)} {number(y)}H{number(WIDTH - RIGHT)}"/>'
        )
        body.append(text(LEFT - 8, y + 4, said(value), size=12, anchor="end"))
    return body


def _line(line: Line, at: Callable[[int, float], tuple[float, float]]) -> list[str]:
    path, marks, pen_up = "", [], True
    for place, value in enumerate(line.values):
        if value is None:
            pen_up = True
            continue
        x, y = at(place, value)
        path += f"{'M' if pen_up else 'L'}{number(x)} {number(y)}"
        pen_up = False
        marks.append(_mark(line.role, x, y))
    return [_stroke(line.role, path), *marks]


def _named(line: Line, top: float) -> list[str]:
    return [
        _stroke(line.role, f"M0 {number(top)}h44"),
        _mark(line.role, 22, top),
        text(54, top + 5, line.label, size=13),
    ]


def _stroke(role: str, path: str) -> str:
    style = style_of(role)
    dashes = f' stroke-dasharray="{style.dash_array(STROKE)}"' if style.dashes else ""
    ends = ' stroke-linecap="round"' if style.round_ends else ""
    return (
        f'<path class="{role_class(role)}" color="{style.colour}" fill="none" stroke="currentColor"'
        f' stroke-width="{STROKE:g}"{dashes}{ends} d="{path}"/>'
    )


def _mark(role: str, x: float, y: float) -> str:
    style = style_of(role)
    return (
        f'<circle class="{role_class(role)}" color="{style.colour}" fill="currentColor"'
        f' cx="{number(x)}" cy="{number(y)}" r="3.5"/>'
    )
