"""Points with the straight line through them, as SVG."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.figures.svg import INK, document, number, text

WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 420.0, 300.0, 56.0, 56.0, 16.0, 16.0


@dataclass(frozen=True, slots=True)
class Scatter:
    """Points from zero up and a line: words, axes with units, and (intercept, slope) or None."""

    title: str
    finding: str
    across: str
    upward: str
    points: tuple[tuple[float, float], ...]
    line: tuple[float, float] | None = None


def nice_step(span: float) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that parts a span into at most six.

    Examples
    --------
    >>> nice_step(10), nice_step(0.7), nice_step(30)
    (2.0, 0.2, 5.0)
    """
    size = 1e-9
    while span / (size * 10) > 6:
        size *= 10
    return float(next(f"{size * m:g}" for m in (1, 2, 5, 10) if span / (size * m) <= 6))


def scatter_svg(scatter: Scatter, key: str = "scatter") -> str:
    """Return the drawing; `key` is unlike that of other drawings on the page.

    Examples
    --------
    >>> points = ((1.0, 2.0), (2.0, 2.9), (3.0, 4.1))
    >>> drawn = scatter_svg(Scatter("Weeks", "A line.", "kg", "kWh", points, (0.95, 1.02)))
    >>> drawn.count("<circle"), drawn.count('class="role-product"')
    (3, 4)
    """
    most_x = max((x for x, _ in scatter.points), default=0) or 1.0
    most_y = max((y for _, y in scatter.points), default=0) or 1.0
    wide, high = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    step_x, step_y = nice_step(most_x), nice_step(most_y)
    reach_x, reach_y = most_x + step_x / 2, most_y + step_y / 2

    def at(x: float, y: float) -> tuple[float, float]:
        return LEFT + x / reach_x * wide, TOP + high - y / reach_y * high

    body = [_axes(scatter, step_x, step_y, reach_x, reach_y, at)]
    if scatter.line is not None:
        base, slope = scatter.line
        ends = [at(x, max(0.0, min(base + slope * x, reach_y))) for x in (0.0, reach_x)]
        path = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in ends)
        body.append(
            f'<path class="role-product" fill="none" stroke="currentColor" stroke-width="2.5"'
            f' d="{path}"/>'
        )
    for x, y in scatter.points:
        place = at(x, y)
        body.append(
            f'<circle class="role-product" cx="{number(place[0])}" cy="{number(place[1])}" r="6"'
            ' fill="currentColor"/>'
        )
    return document(key, WIDTH, HEIGHT, (scatter.title, scatter.finding), "".join(body), "scatter")


def _axes(scatter, step_x, step_y, reach_x, reach_y, at) -> str:
    zero, end, top = at(0, 0), at(reach_x, 0), at(0, reach_y)
    parts = [
        f'<path class="ink-line" fill="none" stroke="{INK}" stroke-width="1.5" d="M{number(top[0])}'
        f" {number(top[1])}L{number(zero[0])} {number(zero[1])}L{number(end[0])}"
        f' {number(end[1])}"/>'
    ]
    for count in range(int(reach_x / step_x) + 1):
        x, y = at(count * step_x, 0)
        parts.append(text(x, y + 20, f"{count * step_x:g}", size=16, anchor="middle"))
    for count in range(int(reach_y / step_y) + 1):
        x, y = at(0, count * step_y)
        parts.append(text(x - 8, y + 5, f"{count * step_y:g}", size=16, anchor="end"))
    parts.append(text(end[0], end[1] + 42, scatter.across, size=16, anchor="end", css="soft"))
    parts.append(text(top[0] + 8, top[1] + 8, scatter.upward, size=16, css="soft"))
    return "".join(parts)
