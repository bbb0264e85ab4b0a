"""Drawings as SVG: well-formed, named for who cannot see them, true to scale, safe in a page."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from recycling.calc.lots.lineage import LineageCycle
from recycling.figures.flows_svg import bars_svg, months_svg, sankey_svg, waterfall_svg
from recycling.figures.lineage_svg import line_width, lineage_svg
from recycling.records.drawings import Bar, Bars, DrawnFlow, Flows, Lineage, Months, Waterfall
from tests.figures.drawn import BARS, FLOWS, KG, LINEAGE, LOTS, MONTHS, RUNS, SANKEY, WATERFALL

SVG = "{http://www.w3.org/2000/svg}"
DRAWINGS = {
    "lineage": (lineage_svg, LINEAGE),
    "bars": (bars_svg, BARS),
    "waterfall": (waterfall_svg, WATERFALL),
    "months": (months_svg, MONTHS),
    "sankey": (sankey_svg, SANKEY),
}
EMPTY = {
    "lineage": Lineage("A", "B", (), (), ()),
    "bars": Bars("A", "B", ()),
    "waterfall": Waterfall("A", "B", ()),
    "months": Months("A", "B", (), ()),
    "sankey": Flows("A", "B", (), ()),
}
every = pytest.mark.parametrize("name", DRAWINGS)


def drawn(name, **more):
    draw, record = DRAWINGS[name]
    return ElementTree.fromstring(draw(record, **more))


def boxes(root):
    """Left, top, width and height of the rectangles among the areas, by drawing order."""
    found = []
    for path in root.iter(f"{SVG}path"):
        match = re.fullmatch(r"M([-\d.]+) ([-\d.]+)h([-\d.]+)v([-\d.]+)h-[\d.]+z", path.get("d"))
        if match:
            found.append(tuple(float(number) for number in match.groups()))
    return found


@every
def test_it_is_well_formed_and_says_what_it_shows(name):
    root, record = drawn(name), DRAWINGS[name][1]
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert (title.text, desc.text) == (record.title, record.finding)
    assert root.get("aria-labelledby").split() == [title.get("id"), desc.get("id")]


@every
def test_it_obeys_a_strict_policy(name):
    root = drawn(name)
    for element in root.iter():
        assert element.tag not in (f"{SVG}style", f"{SVG}script", f"{SVG}foreignObject")
        assert not [key for key in element.attrib if key == "style" or key.startswith("on")]


@every
def test_ids_are_its_own(name):
    one = {element.get("id") for element in drawn(name, key="one").iter() if element.get("id")}
    two = {element.get("id") for element in drawn(name, key="two").iter() if element.get("id")}
    assert one and not one & two


@every
def test_every_hatching_it_uses_is_defined(name):
    root = drawn(name)
    defined = {pattern.get("id") for pattern in root.iter(f"{SVG}pattern")}
    used = set(re.findall(r"url\(#([^)]+)\)", ElementTree.tostring(root, "unicode")))
    assert used <= defined


@every
def test_the_same_record_gives_the_same_drawing(name):
    draw, record = DRAWINGS[name]
    assert draw(record) == draw(record)


@every
def test_nothing_is_drawn_as_an_empty_drawing(name):
    root = ElementTree.fromstring(DRAWINGS[name][0](EMPTY[name]))
    assert root.find(f"{SVG}title").text == "A"


@every
def test_an_unknown_role_is_refused_by_name(name):
    draw, record = DRAWINGS[name]
    field = {"bars": "bars", "waterfall": "steps", "months": "series"}.get(name, "flows")
    wrong = tuple(replace(one, role="lost") for one in getattr(record, field))
    with pytest.raises(ValueError, match="'lost'"):
        draw(replace(record, **{field: wrong}))


@every
def test_masses_are_said_in_the_words_given(name):
    text = "".join(drawn(name, words=lambda mass_mg: f"<{mass_mg} mg>").itertext())
    assert re.search(r"<-?\d+ mg>", text)


def test_every_lot_and_run_is_a_link_with_a_name():
    root = drawn("lineage", url=lambda code: f"/lots/{code}/?a=1&b=2")
    links = {link.get("href"): link.get("aria-label") for link in root.iter(f"{SVG}a")}
    assert len(links) == len(LOTS) + len(RUNS)
    assert links["/lots/L3/?a=1&b=2"] == "L3 caps & rings <mixed> 500 g"
    assert links["/lots/R1/?a=1&b=2"] == "sort R1 3 May"


def test_without_an_address_a_lot_is_no_link_but_has_a_name():
    root = drawn("lineage")
    assert not list(root.iter(f"{SVG}a"))
    names = [group.get("aria-label") for group in root.iter(f"{SVG}g") if group.get("role")]
    assert len(names) == len(LOTS) + len(RUNS)


def test_the_focus_is_marked_once():
    marks = [e for e in drawn("lineage").iter() if e.get("class") == "focus-mark"]
    assert len(marks) == 1


def test_nothing_of_a_lineage_lies_outside_its_paper():
    root = drawn("lineage")
    width, height = float(root.get("width")), float(root.get("height"))
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x")) <= width
        assert 0 <= float(text.get("y")) <= height


def test_lines_are_in_the_style_of_their_role_and_wider_for_more():
    root = drawn("lineage")
    by_role = {}
    for path in root.iter(f"{SVG}path"):
        if (path.get("class") or "").startswith("role-"):
            by_role.setdefault(path.get("class"), []).append(path)
    assert float(by_role["role-heel"][0].get("stroke-width")) == 4, "two lines must stay apart"
    assert {name: len(paths) for name, paths in by_role.items()} == {
        "role-input": 2,
        "role-product": 1,
        "role-side": 1,
        "role-waste": 1,
        "role-heel": 1,
    }
    width = {name: float(paths[0].get("stroke-width")) for name, paths in by_role.items()}
    assert width["role-input"] > width["role-product"] > width["role-side"] > width["role-waste"]
    assert by_role["role-side"][0].get("stroke-dasharray")
    assert not by_role["role-product"][0].get("stroke-dasharray")
    assert by_role["role-waste"][0].get("stroke-linecap") == "round"


def test_a_quarter_of_the_mass_has_half_the_width():
    assert line_width(KG, 4 * KG) == pytest.approx(line_width(4 * KG, 4 * KG) / 2)


def test_a_lineage_in_a_circle_is_refused():
    back = DrawnFlow("L5", "R1", KG, "heel")
    with pytest.raises(LineageCycle):
        lineage_svg(replace(LINEAGE, flows=(*FLOWS, back)))
    back = DrawnFlow("flake", "in", KG, "recirculate")
    with pytest.raises(LineageCycle):
        sankey_svg(replace(SANKEY, flows=(*SANKEY.flows, back)))


def test_bars_are_true_to_scale_on_both_sides_of_zero():
    flake, caps, correction = boxes(drawn("bars"))
    assert flake[2] / caps[2] == pytest.approx(2, rel=1e-3)
    assert caps[2] / correction[2] == pytest.approx(2.5, rel=1e-3)
    assert correction[0] + correction[2] == pytest.approx(flake[0], abs=0.02)


def test_whiskers_reach_one_standard_uncertainty_each_way():
    root = drawn("bars")
    flake = boxes(root)[0]
    whisker = next(
        re.match(r"M([-\d.]+) [-\d.]+H([-\d.]+)M", path.get("d"))
        for path in root.iter(f"{SVG}path")
        if "H" in path.get("d")
    )
    low, high = (float(end) for end in whisker.groups())
    tip, kg = flake[0] + flake[2], flake[2] / 10
    assert (low, high) == (pytest.approx(tip - kg, abs=0.05), pytest.approx(tip + kg, abs=0.05))


def test_each_step_of_a_waterfall_starts_where_the_one_above_ended():
    collected, caps, waste, gain, clean = boxes(drawn("waterfall"))
    assert caps[0] + caps[2] == pytest.approx(collected[0] + collected[2], abs=0.02)
    assert waste[0] + waste[2] == pytest.approx(caps[0], abs=0.02)
    assert gain[0] == pytest.approx(waste[0], abs=0.02)
    assert clean[0] == collected[0]
    assert clean[2] == pytest.approx(gain[0] + gain[2] - clean[0], abs=0.02)


def test_months_stack_without_a_gap_and_say_their_sums():
    filament, waste, june, *legend = boxes(drawn("months"))
    assert waste[0] == pytest.approx(filament[0] + filament[2], abs=0.02)
    assert june[2] / filament[2] == pytest.approx(2, rel=1e-3)
    assert len(legend) == 2
    text = "".join(drawn("months").itertext())
    assert "15.000 kg" in text and "20.000 kg" in text


def test_months_refuse_a_series_that_is_short_or_below_zero():
    short = replace(MONTHS.series[0], masses_mg=(KG,))
    with pytest.raises(ValueError, match="filament"):
        months_svg(replace(MONTHS, series=(short,)))
    below = replace(MONTHS.series[0], masses_mg=(KG, -KG))
    with pytest.raises(ValueError, match="filament"):
        months_svg(replace(MONTHS, series=(below,)))


def test_nodes_of_a_sankey_are_as_high_as_their_mass():
    heights = sorted((box[3] for box in boxes(drawn("sankey"))), reverse=True)
    kilograms = [100.5, 100, 75, 10, 5, 4, 3, 2]
    unit = heights[0] / 100.5
    assert heights[: len(kilograms)] == pytest.approx([kg * unit for kg in kilograms], rel=0.01)


def test_ribbons_of_a_sankey_fill_the_nodes_they_leave():
    root = drawn("sankey")
    thick = []
    for path in root.iter(f"{SVG}path"):
        if "C" in path.get("d"):
            numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d"))]
            thick.append(numbers[-1] - numbers[1])
    assert len(thick) == len(SANKEY.flows)
    collected, sorted_, *_ = (box[3] for box in boxes(root))
    assert thick[0] + thick[7] == pytest.approx(collected, abs=0.1)
    assert sum(thick[1:7]) + thick[8] == pytest.approx(sorted_, abs=0.1)


def test_the_unaccounted_rest_is_always_drawn():
    tiny = DrawnFlow("sort", "rest", 1, "unaccounted")
    flows = tuple(one for one in SANKEY.flows if one.target != "rest") + (tiny,)
    root = ElementTree.fromstring(sankey_svg(replace(SANKEY, flows=flows)))
    assert [e for e in root.iter(f"{SVG}path") if e.get("class") == "role-unaccounted"]
    assert "unaccounted" in "".join(root.itertext())


def test_words_with_markup_stay_words():
    bars = Bars("<b>", '"quoted" & more', (Bar("<script>alert(1)</script>", KG, "product"),))
    root = ElementTree.fromstring(bars_svg(bars))
    assert not [element for element in root.iter() if element.tag.endswith(("script", "b"))]
    assert "<script>alert(1)</script>" in "".join(root.itertext())
