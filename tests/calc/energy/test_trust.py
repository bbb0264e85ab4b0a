"""Order of trust, gaps handed down only when asked, bounds of a meter."""

import pytest

from recycling.calc.energy.intervals import energy_between
from recycling.calc.energy.logs import meter_log, power_log, rated_log
from recycling.calc.energy.trust import meter_bounds_kwh

S = 1_000_000
HOUR = 3600 * S


@pytest.fixture
def logs():
    return {
        "meter": meter_log([0, HOUR], [7.0, 8.0]),
        "power": power_log([HOUR, 2 * HOUR, 4 * HOUR], [500.0] * 3, max_gap_s=3600),
        "rated": rated_log([("heater", 1.0, 0.25, [(0, 3 * HOUR)])]),
    }


def test_bounds_hold_the_even_spread():
    log = meter_log([0, HOUR, 2 * HOUR, 3 * HOUR], [0.0, 1.0, 5.0, 6.0])
    least, most = meter_bounds_kwh(log, HOUR // 2, 2 * HOUR + 1)
    assert (least, most) == (4.0, 6.0)
    assert least <= energy_between(log, HOUR // 2, 2 * HOUR + 1).kwh <= most
    assert meter_bounds_kwh(log, HOUR, 2 * HOUR) == (4.0, 4.0)


def test_bounds_need_a_meter(logs):
    with pytest.raises(ValueError, match="bounds need a meter reading, not a power log"):
        meter_bounds_kwh(logs["power"], 0, HOUR)
