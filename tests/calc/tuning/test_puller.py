"""The next speed of the puller."""

import pytest

from recycling.calc.tuning.flow import strand_flow_g_per_h
from recycling.calc.tuning.puller import next_speed


@pytest.mark.parametrize("diameter", [1.5, 1.74, 1.75, 1.8, 2.1])
def test_mass_is_kept(diameter):
    found = next_speed(34.47, diameter, 0.01, 1.75)
    before = strand_flow_g_per_h(diameter, 34.47, 1.34)
    assert strand_flow_g_per_h(1.75, found.whole, 1.34) == pytest.approx(before)
    assert found.now == pytest.approx((34.47 + found.whole) / 2)


def test_figures_by_hand():
    # 34.47 · (1.80/1.75)² = 36.468; twice 0.01/1.80 of it = 0.405
    found = next_speed(34.47, 1.80, 0.01, 1.75)
    assert found.whole == pytest.approx(36.468, abs=0.001)
    assert found.u_whole == pytest.approx(0.405, abs=0.001)


def test_what_readings_cannot_tell_changes_nothing():
    assert next_speed(34.47, 1.765, 0.01, 1.75).within
    assert not next_speed(34.47, 1.775, 0.01, 1.75).within
    with pytest.raises(ValueError, match="diameter_mm"):
        next_speed(34.47, 0, 0.01, 1.75)
