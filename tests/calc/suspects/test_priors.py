"""The assumptions are bounded, each by name."""

from dataclasses import FrozenInstanceError, fields

import pytest

from recycling.calc.suspects.priors import SuspectPriors


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("cause_probability", 0),
        ("cause_probability", 1),
        ("background_alpha", 0.4),
        ("background_beta", float("inf")),
        ("spoil_alpha", -1),
        ("spoil_beta", float("nan")),
        ("full_share", 0),
        ("full_share", 1.01),
        ("curve_power", 0),
        ("exposed_share", 0),
        ("lead_posterior", 1),
        ("least_judged", 0),
        ("least_bad", 0),
    ],
)
def test_a_prior_out_of_range_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=name):
        SuspectPriors(**{name: value})


def test_every_prior_is_explained_and_frozen():
    for field in fields(SuspectPriors):
        assert field.name in SuspectPriors.__doc__
    with pytest.raises(FrozenInstanceError):
        SuspectPriors().full_share = 0.5
