"""One family of shapes and lines: complete, unlike each other without colour, and drawn once."""

import re
from itertools import combinations
from xml.etree import ElementTree

import pytest

from recycling.figures.shapes import (
    HAZARDS,
    LINES,
    SHAPES,
    SIGNS,
    SPRITE,
    STATES,
    shape_key,
    sprite,
)
from recycling.stages.declaration import FORMS, ROLES

SVG = "{http://www.w3.org/2000/svg}"


def test_every_form_of_the_book_has_a_shape():
    assert {shape_key(form) for form in FORMS} == SHAPES.keys() - {"spool", "run"}


def test_every_role_of_the_book_has_a_line():
    assert ROLES.keys() == LINES.keys() - {"input", "loss", "unaccounted"}


def test_the_sprite_on_disk_is_the_one_that_the_data_makes():
    assert SPRITE.read_text(encoding="utf-8") == sprite()


def test_the_sprite_is_well_formed_and_holds_every_shape_once():
    root = ElementTree.fromstring(sprite())
    names = [symbol.get("id") for symbol in root]
    assert len(names) == len(set(names)) == len(SHAPES) + len(SIGNS)
    assert {symbol.get("viewBox") for symbol in root} == {"0 0 24 24"}
    assert not any("style" in element.attrib for element in root.iter())


def test_paths_are_paths_and_stay_near_their_square():
    for shape in [*SHAPES.values(), *SIGNS.values()]:
        assert shape.fills or shape.lines, shape.key
        for data in shape.fills + shape.lines:
            assert re.fullmatch(r"M[-0-9.MmLlHhVvCcSsAaQqTtZz ]+", data), (shape.key, data)
            starts = re.findall(r"M(-?[\d.]+) (-?[\d.]+)", data)
            assert starts, shape.key
            assert all(-1 <= float(end) <= 25 for start in starts for end in start), shape.key


def test_no_two_shapes_are_alike_without_colour():
    for one, other in combinations(SHAPES.values(), 2):
        assert (one.fills, one.lines) != (other.fills, other.lines), (one.key, other.key)
    for one, other in combinations(SIGNS.values(), 2):
        assert (one.fills, one.lines) != (other.fills, other.lines), (one.key, other.key)


def test_no_two_lines_are_alike_without_colour():
    told_by = [(line.dashes, line.round_ends, line.double) for line in LINES.values()]
    plain = [line.key for line in LINES.values() if told_by.count(((), False, False)) > 0]
    solid = {key for key in plain if (LINES[key].dashes, LINES[key].double) == ((), False)}
    assert solid == {"input", "product"}, "what goes in and the product differ by where they stand"
    rest = [look for look in told_by if look != ((), False, False)]
    assert len(rest) == len(set(rest))


def test_no_two_areas_are_alike_without_colour():
    hatches = [line.hatch for line in LINES.values()]
    assert len(hatches) == len(set(hatches))


@pytest.mark.parametrize("width", [1.5, 2, 4, 9])
def test_dashes_grow_with_the_line(width):
    for line in LINES.values():
        dashes = line.dash_array(width)
        if line.dashes:
            lengths = [float(length) for length in dashes.split()]
            assert lengths == pytest.approx([length * width for length in line.dashes])
        else:
            assert dashes == "none"


def test_every_key_has_a_word():
    from recycling.web import words

    assert SHAPES.keys() == words.FORMS.keys()
    assert LINES.keys() == words.ROLES.keys()
    assert set(STATES) - {"other"} == words.STATES.keys()
    assert set(HAZARDS) == words.HAZARDS.keys()
