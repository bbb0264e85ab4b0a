"""A Sankey for the page, as the plain dict that the chart library draws.

Colours are names of the page's tokens ("--role-waste/0.5"), put in when it is drawn, so that the
same figure serves light, dark and black and white. The alternative text is the record's finding.
"""

from __future__ import annotations

from typing import Any

from recycling.figures.svg import MG_IN_KG, role_class, style_of
from recycling.records.drawings import Flows


def token(role: str, share: float | None = None) -> str:
    """Return the name of a role's colour, at a share of its strength if one is given.

    Examples
    --------
    >>> token("side"), token("waste", 0.5)
    ('--role-side', '--role-waste/0.5')
    """
    style_of(role)
    return f"--{role_class(role)}" + ("" if share is None else f"/{share:g}")


def base_layout(**more: Any) -> dict[str, Any]:
    """Return what all figures share: no ground of their own, figures by the reader's locale.

    Examples
    --------
    >>> base_layout(height=300)["height"]
    300
    """
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 8, "r": 8, "t": 8, "b": 32},
        "hoverlabel": {"bgcolor": "--ink", "font": {"color": "--sheet"}},
        **more,
    }


def sankey(flows: Flows) -> dict[str, Any]:
    """Return a figure of flows in kg; link colours by role, set by hand.

    Raises ValueError for an unknown role and for a flow whose end is not among the nodes.

    Examples
    --------
    >>> from recycling.records.drawings import DrawnFlow, FlowNode
    >>> nodes = (FlowNode("in", "collected"), FlowNode("out", "filament", "product"))
    >>> flow = DrawnFlow("in", "out", 3_000_000, "product")
    >>> figure = sankey(Flows("Season", "All of it.", nodes, (flow,)))
    >>> figure["data"][0]["link"]["value"], figure["layout"]["meta"]["finding"]
    ([3.0], 'All of it.')
    """
    rank = {node.key: place for place, node in enumerate(flows.nodes)}
    for flow in flows.flows:
        if flow.source not in rank or flow.target not in rank:
            raise ValueError(f"flow {flow.source!r} to {flow.target!r}: an end is not a node")
    link = {
        "source": [rank[flow.source] for flow in flows.flows],
        "target": [rank[flow.target] for flow in flows.flows],
        "value": [abs(flow.mass_mg) / MG_IN_KG for flow in flows.flows],
        "color": [token(flow.role, 0.5) for flow in flows.flows],
    }
    node = {
        "label": [node.label for node in flows.nodes],
        "color": [token(node.role) for node in flows.nodes],
        "pad": 22,
        "thickness": 14,
        "line": {"width": 0},
    }
    trace = {
        "type": "sankey",
        "arrangement": "fixed",
        "valueformat": ",.3f",
        "valuesuffix": " kg",
        "node": node,
        "link": link,
    }
    meta = {"title": flows.title, "finding": flows.finding}
    height = 220 + 24 * len(flows.nodes)
    return {"data": [trace], "layout": base_layout(height=height, meta=meta)}
