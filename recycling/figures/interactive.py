"""The interactive form of a chart, from the very record that its static drawing is made from.

Built with plotly's own classes, which refuse what the chart library does not know, and only when
somebody asks for it. Colours are names of the page's tokens ("var(--role-waste/0.5)"), put in when
it is drawn, so that one figure serves light and dark. It says no less than the drawing: kilograms
stand at every place, and areas carry the hatching of their role.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import singledispatch
from html import escape
from typing import Any

from recycling.figures.flows_svg import node_totals
from recycling.figures.interactive_parts import (
    kilograms,
    marker,
    names,
    points,
    role_token,
    rule,
    token,
)
from recycling.figures.svg import MG_IN_KG, style_of, text_of
from recycling.records.drawings import ControlChart, Flows, Months, Waterfall

Words = Callable[[int], str]

PERCENT = 100.0


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
        marker=marker([step.role for step in record.steps]),
        hovertemplate="%{y}: %{text}<extra></extra>",
    )
    return _figure(
        record,
        [trace],
        right=88,
        height=110 + 40 * len(record.steps),
        xaxis=kilograms(),
        yaxis=names(autorange="reversed"),
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
                marker=marker([series.role] * len(record.months)),
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
        xaxis=names(),
        yaxis=kilograms(),
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
            go.Scatter(**points(labels, shares, outside, record.words[0])),
            go.Scatter(**points(labels, steps, over, record.words[1]), yaxis="y2"),
        ],
        height=460,
        showlegend=False,
        shapes=[
            *(rule("y", PERCENT * limit, "dash") for limit in (record.lower, record.upper)),
            rule("y", PERCENT * record.mean, "solid"),
            rule("y2", PERCENT * record.step_upper, "dash"),
            rule("y2", PERCENT * record.mean_step, "solid"),
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
