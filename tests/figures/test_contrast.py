"""Contrast of the tokens in every theme, by the formula of WCAG 2.2 (W3C Recommendation, 2023).

Relative luminance and contrast ratio are as in its section 6, "Key terms"; 4.5:1 for text is
success criterion 1.4.3, 3:1 for boundaries of controls and for graphics is 1.4.11.
"""

import re
from itertools import product
from pathlib import Path

import pytest

from recycling.figures.shapes import LINES

LOOK = Path(__file__).parents[2] / "recycling" / "web" / "static" / "look"
TOKENS = (LOOK / "tokens.css").read_text(encoding="utf-8")

GROUNDS = ("ground", "sheet", "sunk", "stop-wash", "warn-wash", "good-wash")
TEXTS = [
    *product(("ink", "ink-soft", "link"), GROUNDS),
    ("tape-ink", "tape"),
    ("head-ink", "head"),
    ("tape", "head"),
    *product(("stop",), ("ground", "sheet", "stop-wash", "warn-wash")),
    *product(("good",), ("ground", "sheet", "good-wash")),
]
GRAPHICS = [
    *product(("edge", "ink", "stop", "good"), ("ground", "sheet")),
    *product([f"role-{key}" for key in LINES], ("ground", "sheet")),
]


def luminance(colour):
    """Relative luminance of a colour written #rgb or #rrggbb."""
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    linear = []
    for start in (0, 2, 4):
        share = int(digits[start : start + 2], 16) / 255
        linear.append(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def block(selector):
    """Colours that the block of a selector sets."""
    body = TOKENS.split(selector + " {", 1)[1].split("}", 1)[0]
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]+);", body))


THEMES = {
    "light": block("\n:root"),
    "dark": block(':root[data-theme="dark"]'),
    "ink": block(':root[data-theme="ink"]'),
}


def test_the_formula_gives_the_published_ratios():
    assert contrast("#000", "#fff") == pytest.approx(21)
    # W3C, Understanding SC 1.4.3 and technique G18: #767676 is the lightest grey of 4.5:1 on white.
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("text, ground", TEXTS)
def test_text_has_four_and_a_half_to_one(theme, text, ground):
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("mark, ground", GRAPHICS)
def test_lines_and_edges_have_three_to_one(theme, mark, ground):
    assert contrast(THEMES[theme][mark], THEMES[theme][ground]) >= 3


def test_both_ways_to_the_dark_set_the_same_colours():
    by_device = block(':root:not([data-theme="light"], [data-theme="ink"])')
    assert by_device == THEMES["dark"] and len(by_device) > 20


def test_every_theme_sets_every_colour():
    assert THEMES["light"].keys() == THEMES["dark"].keys() == THEMES["ink"].keys()


@pytest.mark.parametrize("key", LINES)
def test_lines_on_paper_have_the_colours_of_the_page(key):
    assert LINES[key].colour == THEMES["light"][f"role-{key}"]
    assert LINES[key].dark_colour == THEMES["dark"][f"role-{key}"]


def test_style_sheets_use_no_token_that_is_not_set():
    used = {
        name
        for sheet in LOOK.glob("*.css")
        for name in re.findall(r"var\(--([a-z-]+)", sheet.read_text())
    }
    defined = set(re.findall(r"--([a-z-]+):", TOKENS)) | {"cut"}
    assert used <= defined
