"""Bars, waterfall, months and Sankey as SVG: for print, for reports, and for pages without script.

Areas carry the hatching of their role, so that they hold in black and white.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from itertools import pairwise

from recycling.calc.lots.lineage import Layout, Node, layers, layout
from recycling.figures.shapes import LINES
from recycling.figures.svg import (
    INK,
    area,
    document,
    hatch,
    number,
    role_class,
    style_of,
    text,
    text_of,
)
from recycling.records.drawings import Bars, DrawnFlow, Flows, Months, Waterfall

Words = Callable[[int], str]

WIDTH, ROW, BAR, LABEL = 680.0, 50.0, 22.0, 96.0
NODE, SANKEY_HEIGHT, NODE_GAP, LAYER, SANKEY_WIDTH = 12.0, 320.0, 38.0, 190.0, 1240.0


def _hatches(roles: set[str], key: str) -> str:
    return "<defs>" + "".join(hatch(role, key) for role in LINES if role in roles) + "</defs>"


def _box(left: float, top: float, width: float, height: float) -> str:
    return f"M{number(left)} {number(top)}h{number(width)}v{number(height)}h{number(-width)}z"


def _line(path: str, width: float = 1.5, css: str = "ink-line", dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    look = f'class="{css}" fill="none" stroke="{INK}" stroke-width="{width:g}"{dashes}'
    return f'<path {look} d="{path}"/>'


def _scale(low_mg: int, high_mg: int) -> Callable[[int], float]:
    """Return the place across the paper for a mass in mg; zero is always on it."""
    low_mg, high_mg = min(low_mg, 0), max(high_mg, 0)
    span = (high_mg - low_mg) or 1
    return lambda mass_mg: (mass_mg - low_mg) / span * (WIDTH - LABEL)


def bars_svg(bars: Bars, words: Words = text_of, key: str = "bars") -> str:
    """Return horizontal bars with their values, and whiskers of one standard uncertainty.

    `words` says a mass in mg; `key` is unlike that of other drawings on the page. Raises ValueError
    for an unknown role.

    Examples
    --------
    >>> from recycling.records.drawings import Bar
    >>> flake = Bar("flake", 2_000_000, "product")
    >>> bars_svg(Bars("Stock", "Flake leads.", (flake,))).count("2.000 kg")
    1
    """
    reach = [bar.mass_mg + (bar.u_mass_mg or 0) for bar in bars.bars]
    at = _scale(min((bar.mass_mg for bar in bars.bars), default=0), max(reach, default=0))
    body = [_hatches({bar.role for bar in bars.bars}, key)]
    for row, bar in enumerate(bars.bars):
        top = row * ROW + 22
        start, end = sorted((at(0), at(bar.mass_mg)))
        said = words(bar.mass_mg).replace("-", "−")
        body.append(text(8, top - 6, f"{bar.label} · {said}", size=14, weight="700"))
        body.append(area(_box(start, top, max(end - start, 1), BAR), bar.role, key))
        if bar.u_mass_mg:
            low, high = at(bar.mass_mg - bar.u_mass_mg), at(bar.mass_mg + bar.u_mass_mg)
            middle = top + BAR / 2
            body.append(
                _line(
                    f"M{number(low)} {number(middle)}H{number(high)}"
                    f"M{number(low)} {number(middle - 5)}v10M{number(high)} {number(middle - 5)}v10"
                )
            )
    body.append(_line(f"M{number(at(0))} 14V{number(len(bars.bars) * ROW + 4)}", 2))
    height = len(bars.bars) * ROW + 12
    return document(key, WIDTH, height, (bars.title, bars.finding), "".join(body), "drawing-fit")


def waterfall_svg(waterfall: Waterfall, words: Words = text_of, key: str = "waterfall") -> str:
    """Return a waterfall, lying: each step starts where the one above ended, totals on zero.

    `words` says a mass in mg; `key` is unlike that of other drawings on the page. Raises ValueError
    for an unknown role.

    Examples
    --------
    >>> from recycling.records.drawings import Step
    >>> steps = (Step("in", 5_000_000, "input", True), Step("caps", -400_000, "side"))
    >>> waterfall_svg(Waterfall("Sort", "Caps are 8 %.", steps)).count("-400 g")
    1
    """
    spans, level = [], 0
    for step in waterfall.steps:
        start = 0 if step.total else level
        level = step.change_mg if step.total else level + step.change_mg
        spans.append((start, level))
    ends = [end for span in spans for end in span]
    at = _scale(min(ends, default=0), max(ends, default=0))
    body = [_hatches({step.role for step in waterfall.steps}, key)]
    for row, (step, (start, end)) in enumerate(zip(waterfall.steps, spans, strict=True)):
        top, (left, right) = row * ROW + 22, sorted((at(start), at(end)))
        weight = "800" if step.total else "600"
        body.append(text(8, top - 6, step.label, size=14, weight=weight))
        body.append(area(_box(left, top, max(right - left, 1), BAR), step.role, key))
        body.append(text(right + 8, top + BAR / 2 + 5, words(step.change_mg), size=14))
        if row + 1 < len(spans):
            body.append(_line(f"M{number(at(end))} {top + BAR:g}v{ROW - BAR:g}", 1, dash="2 3"))
    body.append(_line(f"M{number(at(0))} 14V{number(len(spans) * ROW + 4)}", 2))
    sentences = (waterfall.title, waterfall.finding)
    return document(key, WIDTH, len(spans) * ROW + 12, sentences, "".join(body), "drawing-fit")


def months_svg(months: Months, words: Words = text_of, key: str = "months") -> str:
    """Return a bar for each month, lying, its series side by side, the sum at its end.

    `words` says a mass in mg; `key` is unlike that of other drawings on the page. Masses below
    zero are refused: a stack of them cannot be read. Raises ValueError for these, for an unknown
    role, and for a series that is not as long as the months.

    Examples
    --------
    >>> from recycling.records.drawings import MonthSeries
    >>> series = MonthSeries("filament", "product", (1_000_000, 2_000_000))
    >>> months_svg(Months("Output", "It doubled.", ("May", "June"), (series,))).count("2.000 kg")
    1
    """
    for series in months.series:
        if len(series.masses_mg) != len(months.months) or min(series.masses_mg, default=0) < 0:
            raise ValueError(f"{series.label!r} must have one mass, not below zero, for each month")
    sums = [sum(masses) for masses in zip(*(s.masses_mg for s in months.series), strict=True)]
    at = _scale(0, max(sums, default=0))
    body = [_hatches({series.role for series in months.series}, key)]
    for row, month in enumerate(months.months):
        top, base = row * ROW + 22, 0
        body.append(text(8, top - 6, month, size=14, weight="700"))
        for series in months.series:
            mass = series.masses_mg[row]
            if mass:
                body.append(area(_box(at(base), top, at(mass), BAR), series.role, key))
            base += mass
        body.append(text(at(base) + 8, top + BAR / 2 + 5, words(base), size=14))
    foot = len(months.months) * ROW + 22
    for place, series in enumerate(months.series):
        top = foot + place * 24
        body.append(area(_box(0, top, 28, 14), series.role, key))
        body.append(text(38, top + 12, series.label, size=13))
    height = foot + 24 * len(months.series)
    return document(
        key, WIDTH, height, (months.title, months.finding), "".join(body), "drawing-fit"
    )


def node_totals(flows: tuple[DrawnFlow, ...]) -> dict[str, int]:
    """Return the mass in mg that each node carries: the greater of what comes and what goes."""
    comes: dict[str, int] = defaultdict(int)
    goes: dict[str, int] = defaultdict(int)
    for flow in flows:
        goes[flow.source] += abs(flow.mass_mg)
        comes[flow.target] += abs(flow.mass_mg)
    return {node: max(comes[node], goes[node]) for node in comes.keys() | goes.keys()}


def _docks(
    flows: tuple[DrawnFlow, ...], placed: Layout, unit: float
) -> dict[tuple[DrawnFlow, str], float]:
    """Return where across each flow leaves and reaches its nodes, middles of ribbons stacked."""
    totals, docks = node_totals(flows), {}
    for end, far in (("source", "target"), ("target", "source")):
        filled: dict[str, float] = {}
        beside = [(placed.places[getattr(flow, far)][1], flow) for flow in flows]
        for _, flow in sorted(beside, key=lambda pair: pair[0]):
            node = getattr(flow, end)
            thick = abs(flow.mass_mg) * unit
            start = filled.get(node, placed.places[node][1] - totals[node] * unit / 2)
            docks[flow, end] = start + thick / 2
            filled[node] = start + thick
    return docks


def _ribbon(points: list[tuple[float, float]], thick: float) -> str:
    """Return the area of a ribbon `thick` units across through points, level at each."""
    path = f"M{number(points[0][0])} {number(points[0][1] - thick / 2)}"
    for half, run in ((-thick / 2, points), (thick / 2, points[::-1])):
        if half > 0:
            path += f"L{number(run[0][0])} {number(run[0][1] + half)}"
        for (x, y), (next_x, next_y) in pairwise(run):
            middle = number((x + next_x) / 2)
            path += (
                f"C{middle} {number(y + half)} {middle} {number(next_y + half)}"
                f" {number(next_x)} {number(next_y + half)}"
            )
    return path + "z"


def sankey_svg(flows: Flows, words: Words = text_of, key: str = "sankey") -> str:
    """Return a Sankey: ribbons as thick as their mass, from left to right.

    `words` says a mass in mg; `key` is unlike that of other drawings on the page. Raises
    LineageCycle for flows in a circle: what goes round again ends in a node of its own; ValueError
    for an unknown role or node.

    Examples
    --------
    >>> from recycling.records.drawings import FlowNode
    >>> nodes = (FlowNode("in", "collected"), FlowNode("out", "filament", "product"))
    >>> flow = DrawnFlow("in", "out", 3_000_000, "product")
    >>> sankey_svg(Flows("Season", "All of it.", nodes, (flow,))).count("3.000 kg")
    2
    """
    totals = node_totals(flows.flows)
    ends = [(flow.source, flow.target) for flow in flows.flows]
    names = [node.key for node in flows.nodes if node.key in totals]
    loads: dict[int, int] = defaultdict(int)
    for name, layer in layers(names, ends).items():
        loads[layer] += totals[str(name)]
    unit = SANKEY_HEIGHT / max(loads.values(), default=1)
    heights: dict[Node, float] = {name: totals[name] * unit for name in names}
    for flow in flows.flows:
        end = (flow.source, flow.target)
        heights[end] = heights.get(end, 0.0) + abs(flow.mass_mg) * unit
    placed = layout(names, ends, heights, gap=NODE_GAP)
    step = min(LAYER, SANKEY_WIDTH / max(placed.depth, 1))
    docks = _docks(flows.flows, placed, unit)
    body = [_hatches({flow.role for flow in flows.flows}, key)]
    for flow in flows.flows:
        bends = placed.bends[flow.source, flow.target]
        points = [(layer * step + NODE / 2, across + 24) for layer, across in bends]
        points[0] = (points[0][0] + NODE / 2, docks[flow, "source"] + 24)
        points[-1] = (points[-1][0] - NODE / 2, docks[flow, "target"] + 24)
        body.append(area(_ribbon(points, max(abs(flow.mass_mg) * unit, 1)), flow.role, key, 0.4))
    for node in flows.nodes:
        if node.key not in totals:
            continue
        layer, across = placed.places[node.key]
        left, top = layer * step, across - totals[node.key] * unit / 2 + 24
        height = max(totals[node.key] * unit, 2)
        body.append(
            f'<path class="{role_class(node.role)}" color="{style_of(node.role).colour}"'
            f' fill="currentColor" d="{_box(left, top, NODE, height)}"/>'
        )
        body.append(text(left, top - 6, node.label, size=13, weight="700", halo="on"))
        mass = words(totals[node.key])
        body.append(text(left + NODE + 5, top + height / 2 + 5, mass, size=12, halo="on"))
    width, height = (placed.depth - 1) * step + NODE + 130, placed.breadth + 40
    sentences = (flows.title, flows.finding)
    return document(key, width, height, sentences, "".join(body), "drawing-fit flows")
