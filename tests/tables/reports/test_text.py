"""A figure as people read it: no digit beyond its standard uncertainty."""

from __future__ import annotations

import pytest

from recycling.records.reports.documents import MASS, NUMBER, SHARE, Fact
from recycling.reports.words import file_words
from recycling.tables.reports.text import set_fact


# GUM (JCGM 100:2008), 7.2.6: an uncertainty has two significant digits at most, and the estimate is
# rounded to be consistent with it.
@pytest.mark.parametrize(
    ("kind", "value", "u", "value_text", "u_text"),
    [
        (MASS, 7_012_345, 15_432, "7.012 kg", "± 0.015 kg"),
        (MASS, 7_012_345, 154_321, "7.01 kg", "± 0.15 kg"),
        (MASS, 712_345_678, 1_543_210, "712.3 kg", "± 1.5 kg"),
        (MASS, 7_012_345, 12, "7.012345 kg", "± 0.000012 kg"),
        (MASS, 7_012_345, 0, "7.012345 kg", "± 0 kg"),
        (MASS, 7_012_345, None, "7.012345 kg", ""),
        (SHARE, 0.8967789, 0.0123, "89.7 %", "± 1.2 %"),
        (SHARE, 0.8967789, 0.00123, "89.68 %", "± 0.12 %"),
        (NUMBER, 12.34567, 0.12, "12.35", "± 0.12"),
    ],
)
def test_a_figure_is_rounded_as_its_uncertainty_is(kind, value, u, value_text, u_text):
    found = set_fact(Fact("key", "Title", value, kind, uncertainty=u), file_words("en"))
    assert (found.value, found.uncertainty) == (value_text, u_text)
