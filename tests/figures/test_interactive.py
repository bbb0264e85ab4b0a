"""The interactive form: plain JSON of the chart library, from the record of the static drawing.

It is built with plotly's own classes, whose validators are generated from the schema of the chart
library; they raise for any property or value that it does not know.
"""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from recycling.figures.control_chart import control_svg
from recycling.figures.flows_svg import months_svg, sankey_svg, waterfall_svg
from recycling.figures.interactive import interactive
from recycling.figures.interactive_parts import PATTERNS
from recycling.figures.shapes import LINES
from recycling.figures.svg import hatch
from recycling.records.drawings import ControlChart, ControlPoint
from tests.figures.drawn import BARS, KG, MONTHS, SANKEY, WATERFALL

LOOK = Path(__file__).parents[2] / "recycling" / "web" / "static" / "look"
CONTROL = ControlChart(
    "Yield",
    "R2 is low.",
    (ControlPoint("R1", 0.9, None, False), ControlPoint("R2", 0.5, 0.4, True)),
    0.7,
    0.6,
    0.8,
    0.3,
    0.5,
    ("Yield", "Step", "mean", "limit", "out"),
)
RECORDS = {"flows": SANKEY, "waterfall": WATERFALL, "months": MONTHS, "control": CONTROL}
DRAWN = {"flows": sankey_svg, "waterfall": waterfall_svg, "months": months_svg}
every = pytest.mark.parametrize("name", RECORDS)


@every
def test_it_is_plain_json(name):
    figure = interactive(RECORDS[name])
    assert json.loads(json.dumps(figure, allow_nan=False)) == figure
    assert "template" not in figure["layout"], "the library's own colours would come with it"


@every
def test_its_colours_are_tokens_of_the_page(name):
    tokens = set(re.findall(r"(--[a-z-]+):", (LOOK / "tokens.css").read_text(encoding="utf-8")))
    used = re.findall(r'"var\((--[a-z-]+)(?:/[\d.]+)?\)"', json.dumps(interactive(RECORDS[name])))
    assert used and set(used) <= tokens


@every
def test_it_carries_its_title_and_finding(name):
    record = RECORDS[name]
    meta = interactive(record)["layout"]["meta"]
    assert meta == {"title": record.title, "finding": record.finding}


@pytest.mark.parametrize("name", DRAWN)
def test_it_says_each_mass_that_the_drawing_says(name):
    says = r"-?[\d.,]+ k?g"
    drawn = set(re.findall(says, DRAWN[name](RECORDS[name])))
    assert drawn and drawn <= set(re.findall(says, json.dumps(interactive(RECORDS[name]))))


def test_a_control_chart_has_each_point_and_limit_of_the_drawing():
    figure = interactive(CONTROL)
    assert figure["data"][0]["y"] == [90, 50] and figure["data"][1]["y"] == [None, 40]
    assert figure["data"][0]["marker"]["symbol"] == ["circle", "diamond-open"]
    assert [rule["y0"] for rule in figure["layout"]["shapes"]] == [60, 80, 70, 50, 30]
    assert "diamond" not in control_svg(CONTROL) and control_svg(CONTROL).count("l8 8l-8 8") == 1


def test_the_ribbons_of_flows_are_in_kilograms_and_say_their_role():
    link = interactive(SANKEY)["data"][0]["link"]
    assert link["value"][:3] == [100.0, 75.0, 10.0]
    assert link["customdata"] == [flow.role for flow in SANKEY.flows]
    assert link["line"]["color"][:2] == ["var(--role-input)", "var(--role-product)"]
    labels = interactive(SANKEY)["data"][0]["node"]["label"]
    ends = [(labels[s], labels[t]) for s, t in zip(link["source"], link["target"], strict=True)]
    assert ends[2] == ("sorted<br>100.000 kg", "caps &amp; rings<br>10.000 kg")


def test_what_tells_roles_apart_on_paper_tells_them_apart_here():
    patterns = {role: PATTERNS[line.hatch] for role, line in LINES.items()}
    assert {role for role, pattern in patterns.items() if pattern} == {
        role for role in LINES if hatch(role, "f")
    }
    hatched = [pattern for pattern in patterns.values() if pattern]
    assert len(hatched) == len(set(hatched)) == 6


def test_a_flow_to_no_node_is_refused():
    with pytest.raises(ValueError, match="'sort'"):
        interactive(replace(SANKEY, nodes=SANKEY.nodes[:1]))


def test_a_waterfall_stands_on_the_step_before():
    trace = interactive(WATERFALL)["data"][0]
    assert trace["base"] == [0, 10, 9, 6, 0]
    assert trace["x"] == [10, -1, -3, 0.5, 6.5]


def test_months_refuse_a_series_of_another_length():
    short = replace(MONTHS.series[0], masses_mg=(KG,))
    with pytest.raises(ValueError, match="filament"):
        interactive(replace(MONTHS, series=(short,)))


def test_a_drawing_that_cannot_be_explored_says_so():
    with pytest.raises(TypeError, match="Bars has no interactive form"):
        interactive(BARS)
