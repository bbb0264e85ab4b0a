"""The interactive form of a chart, from the very record that its static drawing is made from.

Built with plotly's own classes, which refuse what the chart library does not know, and only when
somebody asks for it. Colours are names of the page's tokens ("var(--role-waste/0.5)"), put in when
it is drawn, so that one figure serves light and dark. It says no less than the drawing: kilograms
stand at every place, and areas carry the hatching of their role.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import singledispatch
from html import escape
from typing import Any

from recycling.figures.flows_svg import node_totals
from recycling.figures.svg import MG_IN_KG, role_class, style_of, text_of
from recycling.records.control_drawings import ControlChart
from recycling.records.drawings import Flows, Months, Waterfall

Words = Callable[[int], str]

PERCENT = 100.0
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


@singledispatch
def interactive(record: Any, words: Words = text_of) -> dict[str, Any]:
    """Return the interactive form of a chart as plain JSON, `words` saying a mass in mg.

    Raises TypeError for a record that has none, ValueError for an unknown role, for a flow whose
    end is not among the nodes, and for a series that is not as long as its months.

    Examples
    --------
    >>> from recycling.records.drawings import Step
    >>> steps = (Step("in", 5_000_000, "input", True), Step("caps", -500_000, "side"))
    >>> figure = interactive(Waterfall("Sort", "A tenth is caps.", steps))
    >>> figure["data"][0]["base"], figure["data"][0]["text"]
    ([0.0, 5.0], ['5.000 kg', '-500 g'])
    """
    raise TypeError(f"a {type(record).__name__} has no interactive form")


@interactive.register
def _(record: Flows, words: Words = text_of) -> dict[str, Any]:
    from plotly import graph_objects as go

    rank = {node.key: place for place, node in enumerate(record.nodes)}
    for flow in record.flows:
        if flow.source not in rank or flow.target not in rank:
            raise ValueError(f"flow {flow.source!r} to {flow.target!r}: an end is not a node")
    totals = node_totals(record.flows)
    trace = go.Sankey(
        arrangement="fixed",
        valueformat=",.3f",
        valuesuffix=" kg",
        node={
            "label": [
                f"{escape(node.label, quote=False)}<br>{words(totals.get(node.key, 0))}"
                for node in record.nodes
            ],
            "color": [role_token(node.role) for node in record.nodes],
            "pad": 22,
            "thickness": 14,
            "line": {"width": 0},
        },
        link={
            "source": [rank[flow.source] for flow in record.flows],
            "target": [rank[flow.target] for flow in record.flows],
            "value": [abs(flow.mass_mg) / MG_IN_KG for flow in record.flows],
            "color": [role_token(flow.role, _ground(flow.role)) for flow in record.flows],
            "customdata": [flow.role for flow in record.flows],
            "line": {"width": 1, "color": [role_token(flow.role) for flow in record.flows]},
        },
    )
    return _figure(record, [trace], height=220 + 24 * len(record.nodes))


def _ground(role: str) -> float:
    """How strong the colour is under a ribbon's hatching, which the page puts over it."""
    return 0.5 if style_of(role).hatch == "full" else 0.12


@interactive.register
def _(record: Waterfall, words: Words = text_of) -> dict[str, Any]:
    from plotly import graph_objects as go

    bases, level = [], 0
    for step in record.steps:
        bases.append(0 if step.total else level)
        level = step.change_mg if step.total else level + step.change_mg
    said = [words(step.change_mg) for step in record.steps]
    trace = go.Bar(
        orientation="h",
        base=[base / MG_IN_KG for base in bases],
        x=[step.change_mg / MG_IN_KG for step in record.steps],
        y=[step.label for step in record.steps],
        text=said,
        textposition="outside",
        cliponaxis=False,
        marker=_marker([step.role for step in record.steps]),
        hovertemplate="%{y}: %{text}<extra></extra>",
    )
    return _figure(
        record,
        [trace],
        right=88,
        height=110 + 40 * len(record.steps),
        xaxis=_kilograms(),
        yaxis=_names(autorange="reversed"),
    )


@interactive.register
def _(record: Months, words: Words = text_of) -> dict[str, Any]:
    from plotly import graph_objects as go

    traces = []
    for series in record.series:
        if len(series.masses_mg) != len(record.months):
            raise ValueError(f"{series.label!r} must have one mass for each month")
        traces.append(
            go.Bar(
                name=series.label,
                x=list(record.months),
                y=[mass_mg / MG_IN_KG for mass_mg in series.masses_mg],
                customdata=[words(mass_mg) for mass_mg in series.masses_mg],
                marker=_marker([series.role] * len(record.months)),
                hovertemplate="%{x}, %{fullData.name}: %{customdata}<extra></extra>",
            )
        )
    sums = [sum(masses) for masses in zip(*(s.masses_mg for s in record.series), strict=True)]
    heights = go.Scatter(
        x=list(record.months),
        y=[mass_mg / MG_IN_KG for mass_mg in sums],
        text=[words(mass_mg) for mass_mg in sums],
        mode="text",
        textposition="top center",
        cliponaxis=False,
        showlegend=False,
        hoverinfo="skip",
    )
    return _figure(
        record,
        [*traces, heights],
        height=420,
        barmode="relative",
        legend={"orientation": "h", "y": -0.2},
        xaxis=_names(),
        yaxis=_kilograms(),
    )


@interactive.register
def _(record: ControlChart, words: Words = text_of) -> dict[str, Any]:
    from plotly import graph_objects as go

    labels = [point.label for point in record.points]
    shares = [PERCENT * point.share for point in record.points]
    steps = [None if p.step is None else PERCENT * p.step for p in record.points]
    outside = [point.outside for point in record.points]
    over = [(point.step or 0.0) > record.step_upper for point in record.points]
    axis = {"gridcolor": token("hair"), "automargin": True, "fixedrange": True}
    return _figure(
        record,
        [
            go.Scatter(**_points(labels, shares, outside, record.words[0])),
            go.Scatter(**_points(labels, steps, over, record.words[1]), yaxis="y2"),
        ],
        height=460,
        showlegend=False,
        shapes=[
            *(_rule("y", PERCENT * limit, "dash") for limit in (record.lower, record.upper)),
            _rule("y", PERCENT * record.mean, "solid"),
            _rule("y2", PERCENT * record.step_upper, "dash"),
            _rule("y2", PERCENT * record.mean_step, "solid"),
        ],
        xaxis={"type": "category", "automargin": True, "fixedrange": True, "nticks": 12},
        yaxis={**axis, "domain": [0.42, 1], "title": {"text": f"{record.words[0]}, %"}},
        yaxis2={**axis, "domain": [0, 0.3], "title": {"text": "%"}, "rangemode": "tozero"},
    )


def _figure(
    record: Flows | Waterfall | Months | ControlChart,
    traces: list[Any],
    right: int = 8,
    **layout: Any,
) -> dict[str, Any]:
    from plotly import graph_objects as go

    figure = go.Figure(
        data=traces,
        layout=go.Layout(
            paper_bgcolor="rgba(0,0,0,0)",
            plot_bgcolor="rgba(0,0,0,0)",
            margin={"l": 8, "r": right, "t": 24, "b": 32},
            hoverlabel={"bgcolor": token("ink"), "font": {"color": token("sheet")}},
            meta={"title": record.title, "finding": record.finding},
            template="none",
            **layout,
        ),
    )
    plain: dict[str, Any] = figure.to_plotly_json()
    plain["layout"].pop("template", None)
    return plain


def _marker(roles: Sequence[str]) -> dict[str, Any]:
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


def _kilograms() -> dict[str, Any]:
    return {
        "title": {"text": "kg"},
        "gridcolor": token("hair"),
        "zerolinecolor": token("ink"),
        "zerolinewidth": 2,
        "automargin": True,
        "fixedrange": True,
    }


def _names(**more: Any) -> dict[str, Any]:
    fixed = {"automargin": True, "fixedrange": True, "type": "category", "ticklabelstandoff": 8}
    return {**fixed, **more}


def _points(
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


def _rule(axis: str, at: float, dash: str) -> dict[str, Any]:
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
