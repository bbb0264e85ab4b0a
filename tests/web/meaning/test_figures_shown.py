"""Figures on pages: a share and its uncertainty end at the same place (JCGM 100:2008, 7.2.6)."""

from __future__ import annotations

import pytest

from recycling.web.templatetags.ledger import percent, percent_with
from recycling.web.templatetags.look import kg, kg_with


@pytest.mark.parametrize(
    "share, u, text",
    [
        (0.9295412, 0.000587, "92.954 ± 0.059 %"),
        (0.662251, 0.00171, "66.23 ± 0.17 %"),
        (0.5, 0.0996, "50 ± 10 %"),
        (0.5, 0.124, "50 ± 12 %"),
        (1.004, 0.0099, "100.40 ± 0.99 %"),
        (0.93, None, "93 %"),
        (None, 0.1, "–"),
    ],
)
def test_a_share_ends_where_its_uncertainty_does(share, u, text):
    shown = percent_with(share, u)
    assert shown.replace("\u00a0", " ").replace("\u202f", " ") == text


def test_a_share_too_small_to_write_is_said_to_be_below_and_not_in_powers_of_ten():
    assert percent(1.16e-13) == "< 0.0001\u202f%"
    assert (percent(2e-6), percent(0.0)) == ("0.0002\u202f%", "0\u202f%")


@pytest.mark.parametrize(
    "mass_mg, u_mg, text",
    [
        (2_310_004, 140, "2.31000"),  # ± 0.14 g
        (2_310_000, 2_000, "2.3100"),  # ± 2.0 g
        (2_310_000, 35_000, "2.310"),  # ± 35 g
        (2_310_000, 99_600, "2.31"),  # ± 100 g: 0.10 kg
        (41_310_000, 1_400_000, "41.3"),  # ± 1.4 kg
        (41_310_000, 14_000_000, "41"),
        (-2_310_004, 140, "\N{MINUS SIGN}2.31000"),
    ],
)
def test_a_mass_in_kg_ends_where_its_uncertainty_does(mass_mg, u_mg, text):
    assert kg_with(mass_mg, u_mg) == text


def test_a_mass_without_an_uncertainty_has_the_usual_places():
    assert (kg_with(2_310_000, None), kg_with(2_310_000, 0)) == (kg(2_310_000), "2.310")
    assert kg_with(None, 140) == "–"
