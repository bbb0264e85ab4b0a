"""The lineage of a lot as an accessible drawing: lots as tags with their shape, runs as hexagons.

It reads from left to right. Lines carry the style of their role and are as wide as their mass;
every lot and run is a link; whoever cannot see it gets title, description and names.
"""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from math import sqrt

from recycling.calc.lots.lineage import Layout, layout
from recycling.figures.shapes import SHAPES, markup, shape_key
from recycling.figures.svg import INK, document, number, stroke, text, text_of
from recycling.records.drawings import DrawnFlow, DrawnLot, DrawnRun, Lineage

LAYER, ROW, MARGIN = 118.0, 66.0, 16.0
LOT_WIDTH, LOT_HEIGHT, RUN_RADIUS = 184.0, 46.0, 21.0
NARROWEST, WIDEST = 1.6, 9.0


def line_width(mass_mg: int, heaviest_mg: int) -> float:
    """Return the width of a line, in units of the drawing: the root of the share of the heaviest.

    The root keeps a small share visible beside a large one.

    Examples
    --------
    >>> line_width(100, 100), line_width(0, 100)
    (9.0, 1.6)
    """
    share = abs(mass_mg) / heaviest_mg if heaviest_mg else 0.0
    return max(NARROWEST, WIDEST * sqrt(share))


class _Paper:
    """Where layers and rows lie on the paper: lots and runs alternate, so widths differ."""

    def __init__(self, placed: Layout, lots: frozenset[str]) -> None:
        self.placed, self.lots = placed, lots
        wide = {placed.places[code][0] for code in lots if code in placed.places}
        self.middles: list[float] = []
        x = MARGIN
        for layer in range(placed.depth):
            breadth = LOT_WIDTH if layer in wide else 2 * RUN_RADIUS
            self.middles.append(x + breadth / 2)
            x += breadth + LAYER / 2
        self.width = x - LAYER / 2 + MARGIN if placed.depth else 2 * MARGIN
        self.height = placed.breadth * ROW + LOT_HEIGHT + 2 * MARGIN + 16

    def at(self, layer: int, across: float) -> tuple[float, float]:
        return self.middles[layer], MARGIN + LOT_HEIGHT / 2 + across * ROW

    def half(self, code: str) -> float:
        return LOT_WIDTH / 2 if code in self.lots else RUN_RADIUS


def _route(paper: _Paper, flow: DrawnFlow) -> str:
    """Return the path of a flow: level at every point it passes, smooth between."""
    points = [paper.at(*bend) for bend in paper.placed.bends[flow.source, flow.target]]
    (x, y), *rest = points
    x += paper.half(flow.source)
    path = f"M{number(x)} {number(y)}"
    for place, (next_x, next_y) in enumerate(rest):
        end = next_x - paper.half(flow.target) if place == len(rest) - 1 else next_x
        middle = (x + end) / 2
        path += (
            f"C{number(middle)} {number(y)} {number(middle)} {number(next_y)}"
            f" {number(end)} {number(next_y)}"
        )
        x, y = end, next_y
    return path


def _linked(inner: str, address: str, name: str) -> str:
    name = escape(name, quote=True)
    if not address:
        return f'<g role="img" aria-label="{name}">{inner}</g>'
    return f'<a href="{escape(address, quote=True)}" aria-label="{name}">{inner}</a>'


def _lot(lot: DrawnLot, x: float, y: float, focus: bool, words: Callable[[int], str]) -> str:
    """Return a lot as a tag: cut corners on the left, the shape of its form, code and mass."""
    left, top, right, bottom = x - LOT_WIDTH / 2, y - LOT_HEIGHT / 2, x + LOT_WIDTH / 2, y + 23
    tag = (
        f"M{number(left + 9)} {number(top)}H{number(right)}V{number(bottom)}H{number(left + 9)}"
        f"L{number(left)} {number(bottom - 9)}V{number(top + 9)}z"
    )
    look = (
        f'<path class="focus-mark" d="{tag}" fill="#ffcb2e" stroke="{INK}" stroke-width="2.5"/>'
        if focus
        else f'<path class="ground" d="{tag}" fill="#fff"/>'
        f'<path class="ink-line" d="{tag}" fill="none" stroke="{INK}" stroke-width="1.5"'
        + (' stroke-dasharray="4 3"/>' if lot.held else "/>")
    )
    shape = SHAPES.get(shape_key(lot.form), SHAPES["run"])
    return (
        look
        + f'<g transform="translate({number(left + 11)} {number(y - 12)})">{markup(shape)}</g>'
        + text(left + 44, y - 4, lot.code, size=14, weight="800")
        + text(left + 44, y + 13, f"{lot.label} · {words(lot.mass_mg)}", size=12)
    )


def _run(run: DrawnRun, x: float, y: float) -> str:
    """Return a run as a hexagon with its stage in words below."""
    r, h = RUN_RADIUS, RUN_RADIUS * 0.8
    path = (
        f"M{number(x - r)} {number(y)}L{number(x - r / 2)} {number(y - h)}h{number(r)}"
        f"L{number(x + r)} {number(y)}L{number(x + r / 2)} {number(y + h)}h{number(-r)}z"
    )
    return (
        f'<path class="ink" fill="{INK}" d="{path}"/>'
        + text(x, y + h + 13, run.label, size=12, anchor="middle", weight="700")
        + (text(x, y + h + 26, run.note, size=10, anchor="middle", css="soft") if run.note else "")
    )


def lineage_svg(
    lineage: Lineage,
    url: Callable[[str], str] = lambda code: "",
    words: Callable[[int], str] = text_of,
    key: str = "lineage",
) -> str:
    """Return the drawing as SVG text.

    `url` gives the address of a lot or run by code ("" for none), `words` a mass in mg in words,
    `key` is unlike that of other drawings on the page. Raises ValueError for an unknown role or a
    flow whose end is not drawn, LineageCycle for flows in a circle.

    Examples
    --------
    >>> bag = DrawnLot("L1", "bottles", "bottles", 4_310_000)
    >>> sort = DrawnRun("R1", "sort")
    >>> flow = DrawnFlow("L1", "R1", 4_310_000, "input")
    >>> drawing = lineage_svg(Lineage("A bag", "It was sorted.", (bag,), (sort,), (flow,)))
    >>> drawing.count("<a "), drawing.count('role="img"')
    (0, 2)
    """
    codes = [lot.code for lot in lineage.lots] + [run.code for run in lineage.runs]
    placed = layout(codes, [(flow.source, flow.target) for flow in lineage.flows])
    paper = _Paper(placed, frozenset(lot.code for lot in lineage.lots))
    heaviest = max((abs(flow.mass_mg) for flow in lineage.flows), default=0)
    body = [
        stroke(_route(paper, flow), flow.role, line_width(flow.mass_mg, heaviest))
        for flow in lineage.flows
    ]
    for run in lineage.runs:
        name = f"{run.label} {run.code} {run.note}".strip()
        drawn = _run(run, *paper.at(*placed.places[run.code]))
        body.append(_linked(drawn, url(run.code), name))
    for lot in lineage.lots:
        drawn = _lot(lot, *paper.at(*placed.places[lot.code]), lot.code == lineage.focus, words)
        body.append(_linked(drawn, url(lot.code), f"{lot.code} {lot.label} {words(lot.mass_mg)}"))
    sentences = (lineage.title, lineage.finding)
    return document(key, paper.width, paper.height, sentences, "".join(body), "lineage")
