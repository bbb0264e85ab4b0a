"""Individuals and moving-range chart as SVG."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from recycling.figures.svg import INK, document, number, text
from recycling.records.drawings import ControlChart

WIDTH, LEFT, RIGHT = 680.0, 16.0, 664.0
TOP, UPPER, GAP, LOWER = 34.0, 190.0, 56.0, 96.0
PERCENT = 100.0


def percent_of(share: float) -> str:
    """Say a share in percent, for callers that give no wording of their own.

    Examples
    --------
    >>> percent_of(0.50812)
    '50.8 %'
    """
    return f"{PERCENT * share:.1f} %"


def _scale(values: Sequence[float], top: float, height: float) -> Callable[[float], float]:
    low, high = min(values), max(values)
    span = (high - low) or 1.0
    return lambda value: top + height - (value - low) / span * height


def _rule(y: float, css: str, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path class="{css}" fill="none" stroke="{INK}" stroke-width="1.5"{dashes}'
        f' d="M{number(LEFT)} {number(y)}H{number(RIGHT)}"/>'
    )


def _dot(x: float, y: float, outside: bool) -> str:
    """A round point in control; a large open diamond outside, so that shape tells it too."""
    if outside:
        path = f"M{number(x)} {number(y - 8)}l8 8l-8 8l-8 -8z"
        return f'<path class="ink-line" fill="none" stroke="{INK}" stroke-width="2.5" d="{path}"/>'
    return (
        f'<path class="ink-line" fill="none" stroke="{INK}" stroke-width="6"'
        f' stroke-linecap="round" d="M{number(x)} {number(y)}h.01"/>'
    )


def control_svg(
    chart: ControlChart, words: Callable[[float], str] = percent_of, key: str = "control"
) -> str:
    """Return the chart as SVG; `words` says a share, `key` is unlike that of other drawings.

    Raises ValueError for a chart without points.

    Examples
    --------
    >>> from recycling.records.drawings import ControlPoint
    >>> points = (ControlPoint("R1", 0.9, None, False), ControlPoint("R2", 0.5, 0.4, True))
    >>> chart = ControlChart("Yield", "R2 is low.", points, 0.7, 0.6, 0.8, 0.4, 0.5, ("",) * 5)
    >>> control_svg(chart).count("R2</text>")
    1
    """
    if not chart.points:
        raise ValueError("there is no point to draw")
    shares = [point.share for point in chart.points]
    above = _scale([*shares, chart.lower, chart.upper], TOP, UPPER)
    start = TOP + UPPER + GAP
    below = _scale([0.0, chart.step_upper, *(p.step or 0.0 for p in chart.points)], start, LOWER)
    step = (RIGHT - LEFT - 24) / max(len(shares) - 1, 1)
    places = [LEFT + 12 + place * step for place in range(len(shares))]
    body = [
        text(8, 16, chart.words[0], size=14, weight="700"),
        text(8, start - 18, chart.words[1], size=14, weight="700"),
        _rule(above(chart.mean), "ink-line"),
        *(_rule(above(limit), "ink-line", "7 4") for limit in (chart.lower, chart.upper)),
        _rule(below(chart.mean_step), "ink-line"),
        _rule(below(chart.step_upper), "ink-line", "7 4"),
    ]
    for at, line in ((above(chart.mean), chart.mean), (above(chart.upper), chart.upper)):
        body.append(text(RIGHT, at - 5, words(line), size=13, anchor="end", halo="yes"))
    body.append(
        text(RIGHT, above(chart.lower) - 5, words(chart.lower), size=13, anchor="end", halo="yes")
    )
    steps = [(x, p.step) for x, p in zip(places, chart.points, strict=True) if p.step is not None]
    body.append(_path([(x, above(p.share)) for x, p in zip(places, chart.points, strict=True)]))
    body.append(_path([(x, below(size)) for x, size in steps]))
    body += [_dot(x, below(size), size > chart.step_upper) for x, size in steps]
    for x, point in zip(places, chart.points, strict=True):
        body.append(_dot(x, above(point.share), point.outside))
        if point.outside:
            anchor = "end" if x > WIDTH / 2 else "start"
            y = above(point.share) - 12
            body.append(text(x, y, point.label, size=13, anchor=anchor, weight="700", halo="yes"))
    sentences = (chart.title, chart.finding)
    height = start + LOWER + 12
    return document(key, WIDTH, height, sentences, "".join(body), "drawing-fit")


def _path(points: list[tuple[float, float]]) -> str:
    if len(points) < 2:
        return ""
    path = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path class="hair-line" fill="none" stroke="{INK}" stroke-opacity="0.5" d="M{path}"/>'
