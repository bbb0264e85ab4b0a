"""Figures for the page: plain JSON that the chart library's own validators accept.

The validators are those of plotly's Python package, which are generated from the schema of the
chart library; they raise for any property or value that it does not know.
"""

import json
import re
from pathlib import Path

import pytest

from recycling.figures import charts
from recycling.figures.sankey import sankey
from recycling.figures.shapes import LINES
from tests.figures.drawn import BARS, KG, MONTHS, SANKEY, WATERFALL

LOOK = Path(__file__).parents[2] / "recycling" / "web" / "static" / "look"
FIGURES = {
    "sankey": (sankey, SANKEY),
    "bars": (charts.bars, BARS),
    "waterfall": (charts.waterfall, WATERFALL),
    "months": (charts.months, MONTHS),
}
every = pytest.mark.parametrize("name", FIGURES)


def figure(name):
    make, record = FIGURES[name]
    return make(record)


@every
def test_it_is_plain_json(name):
    assert json.loads(json.dumps(figure(name), allow_nan=False)) == figure(name)


@every
def test_the_chart_librarys_validators_accept_it(name):
    from plotly import graph_objects

    coloured = re.sub(r'"--[a-z-]+(/[\d.]+)?"', '"#123456"', json.dumps(figure(name)))
    graph_objects.Figure(json.loads(coloured))


@every
def test_its_colours_are_tokens_of_the_page(name):
    tokens = set(re.findall(r"(--[a-z-]+):", (LOOK / "tokens.css").read_text(encoding="utf-8")))
    used = re.findall(r'"(--[a-z-]+)(?:/[\d.]+)?"', json.dumps(figure(name)))
    assert used and set(used) <= tokens


@every
def test_it_carries_its_title_and_finding(name):
    record = FIGURES[name][1]
    meta = figure(name)["layout"]["meta"]
    assert meta == {"title": record.title, "finding": record.finding}


def test_the_links_of_a_sankey_are_in_kilograms_and_coloured_by_role():
    link = figure("sankey")["data"][0]["link"]
    assert link["value"][:3] == [100.0, 75.0, 10.0]
    assert link["color"][:3] == ["--role-input/0.5", "--role-product/0.5", "--role-side/0.5"]
    labels = figure("sankey")["data"][0]["node"]["label"]
    ends = [(labels[s], labels[t]) for s, t in zip(link["source"], link["target"], strict=True)]
    assert ends[2] == ("sorted", "caps & rings")


def test_a_flow_to_no_node_is_refused():
    from dataclasses import replace

    with pytest.raises(ValueError, match="'sort'"):
        sankey(replace(SANKEY, nodes=SANKEY.nodes[:1]))


def test_a_waterfall_stands_on_the_step_before():
    trace = figure("waterfall")["data"][0]
    assert trace["base"] == [0, 10, 9, 6, 0]
    assert trace["x"] == [10, -1, -3, 0.5, 6.5]


def test_bars_show_uncertainty_only_where_there_is_one():
    error = figure("bars")["data"][0]["error_x"]
    assert (error["array"], error["visible"]) == ([1.0, 0.0, 0.1], True)


def test_areas_are_told_apart_by_hatching_too():
    patterns = [charts.PATTERNS[line.hatch] for line in LINES.values()]
    hatched = [pattern for pattern in patterns if pattern]
    assert len(hatched) == len(set(hatched)) == 5


def test_months_refuse_a_series_of_another_length():
    from dataclasses import replace

    short = replace(MONTHS.series[0], masses_mg=(KG,))
    with pytest.raises(ValueError, match="filament"):
        charts.months(replace(MONTHS, series=(short,)))
