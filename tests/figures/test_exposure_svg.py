"""Good and bad side by side, and the curve: right lengths, in words, without colour."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from recycling.figures.exposure_svg import WIDTH, curve_svg, side_by_side_svg
from recycling.records.drawings import Bin, Curve, SideBySide

SVG = "{http://www.w3.org/2000/svg}"


def drawn(*bins: Bin) -> ElementTree.Element:
    record = SideBySide("Share of L1 <x>", "It is in 3 of 4.", "good", "bad", bins)
    return ElementTree.fromstring(side_by_side_svg(record))


def test_bars_are_as_long_as_their_counts_and_say_them():
    svg = drawn(Bin("over 50 %", 1, 6), Bin("none", 3, 0))
    widths = [float(bar.get("width")) for bar in svg.iter(f"{SVG}rect")]
    assert widths[1] == pytest.approx(6 * widths[0], abs=0.1)
    assert widths[2] == pytest.approx(3 * widths[0], abs=0.1)
    texts = [text.text for text in svg.iter(f"{SVG}text")]
    assert {"1", "6", "3", "good", "bad", "over 50 %"} <= set(texts)
    for bar in svg.iter(f"{SVG}rect"):
        assert float(bar.get("x")) >= 0
        assert float(bar.get("x")) + float(bar.get("width")) <= WIDTH


def test_good_is_hollow_and_bad_is_full_so_that_it_holds_without_colour():
    good, bad = drawn(Bin("all", 1, 1)).iter(f"{SVG}rect")
    assert good.get("fill") == "#fff" and good.get("stroke")
    assert bad.get("fill") != "#fff"


def test_it_has_a_title_and_a_finding_for_those_who_cannot_see_it():
    svg = drawn(Bin("all", 2, 0))
    assert svg.find(f"{SVG}title").text == "Share of L1 <x>"
    assert svg.find(f"{SVG}desc").text == "It is in 3 of 4."
    assert svg.get("aria-labelledby") == "exposures-title exposures-desc"
    assert drawn().get("width")


def test_many_spools_still_fit_a_phone():
    svg = drawn(*[Bin(str(place), 700, 1300) for place in range(7)])
    assert float(svg.get("width")) <= 328


@pytest.mark.parametrize(("full", "power"), [(0.2, 1.0), (1.0, 2.0), (0.01, 0.5)])
def test_the_curve_rises_from_nothing_to_full_at_the_mark(full, power):
    text = curve_svg(Curve("Curve", "It is full there.", "share", "exposure", full, power))
    svg = ElementTree.fromstring(text)
    line = [path for path in svg.iter(f"{SVG}path") if path.get("stroke-width") == "3"][0]
    numbers = [float(one) for one in re.findall(r"[\d.]+", line.get("d"))]
    xs, ys = numbers[::2], numbers[1::2]
    mark = float(re.match(r"M([\d.]+)", next(svg.iter(f"{SVG}path")).get("d"))[1])
    full_from = next(x for x, y in zip(xs, ys, strict=True) if y == min(ys))
    assert ys[0] == max(ys)
    assert full_from == pytest.approx(mark, abs=(xs[-1] - xs[0]) / 50)
    assert "style=" not in text


def test_a_curve_out_of_range_is_refused():
    with pytest.raises(ValueError, match="full_share"):
        curve_svg(Curve("a", "b", "c", "d", 0.0, 1.0))
