"""A spool's standing from what its users said."""

import pytest

from recycling.calc.quality.verdicts import Standing, standings


def test_missing_is_not_good_and_contradiction_is_neither():
    assert standings([0, 3, 0, 2], [0, 0, 1, 2]).tolist() == [
        Standing.NOT_JUDGED,
        Standing.GOOD,
        Standing.BAD,
        Standing.CONTRADICTORY,
    ]


def test_a_workshop_can_count_contradictory_spools_as_bad():
    assert standings([1], [1], contradictory=Standing.BAD).tolist() == [Standing.BAD]


@pytest.mark.parametrize(("good", "bad"), [([1], [1, 0]), ([-1], [0]), ([0.5], [0])])
def test_impossible_counts_are_refused(good, bad):
    with pytest.raises(ValueError, match="count"):
        standings(good, bad)
