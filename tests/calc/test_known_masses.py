"""How sure a mass in the book is, from its scale, its sample, or an assumption.

Sources
-------
.. [1] OIML R 76-1:2006, table 6 and 3.5.2: class III, up to 500 e the limit is 0.5 e, up to
   2 000 e it is 1 e; in service twice that.
.. [2] JCGM 100:2008 (GUM), F.2.2.1 (resolution d/sqrt 12), 4.3.7 (limit/sqrt 3), 5.2.2 (a tare
   that enters more than once), held here against the `uncertainties` library.
"""

import math

import pytest
from uncertainties import ufloat

from recycling.calc.known_masses import (
    Assumed,
    Known,
    Scale,
    Sureness,
    doubts,
    left_over,
)
from recycling.calc.known_masses import sureness as judged

BENCH = Scale("bench", "III", 1_000, 15_000_000)
FINE = Scale("fine", "II", 10, 600_000)
ASSUMED = Assumed(counted_share=0.13, estimated_share=0.27, interval_mg=2_000)


def sureness(known, scales=()):
    return judged(known, scales, ASSUMED)


def by_hand(load_mg, interval_mg, steps):
    return math.hypot(interval_mg / math.sqrt(12), 2 * steps * interval_mg / math.sqrt(3))


@pytest.mark.parametrize(("load_mg", "steps"), [(500_000, 0.5), (500_001, 1.0), (2_000_001, 1.5)])
def test_a_reading_in_service_at_the_limits_of_table_6(load_mg, steps):
    assert sureness(Known(load_mg, scale=BENCH)).u_mg == pytest.approx(
        by_hand(load_mg, 1_000, steps)
    )


def test_gross_and_tare_are_two_readings():
    sure = sureness(Known(800_000, tare_mg=400_000, scale=BENCH))
    assert sure.u_gross_mg == pytest.approx(by_hand(1_200_000, 1_000, 1.0))
    assert sure.u_tare_mg == pytest.approx(by_hand(400_000, 1_000, 0.5))
    assert sure.u_mg == pytest.approx(math.hypot(sure.u_gross_mg, sure.u_tare_mg))


def test_without_a_name_the_coarsest_scale_that_carries_it_is_assumed():
    assert sureness(Known(500_000), [FINE, BENCH]).basis == "assumed scale"
    assert sureness(Known(500_000), [FINE, BENCH]) == sureness(Known(500_000), [BENCH])
    alone = sureness(Known(700_000), [FINE])
    assert alone.u_mg == pytest.approx(sureness(Known(700_000, scale=FINE)).u_mg)
    none = sureness(Known(500_000))
    assert (none.basis, none.u_mg) == (
        "no scale",
        pytest.approx(by_hand(500_000, ASSUMED.interval_mg, 0.5)),
    )


def test_counts_and_estimates():
    sample = (24_000, 26_000, 25_000, 25_000)
    counted = sureness(Known(2_500_000, "counted", count=100, sample_mg=sample, scale=FINE))
    assert counted.basis == "sample"
    assert counted.u_mg > 41_633  # of the scatter alone, without the scale's own error
    assert sureness(Known(100, "counted")).u_mg == pytest.approx(100 * ASSUMED.counted_share)
    assert sureness(Known(100, "estimated")).u_mg == pytest.approx(100 * ASSUMED.estimated_share)
    assert sureness(Known(100, "estimated", u_mg=7.0)) == Sureness(7.0, 0.0, "stated")


def test_a_tare_that_is_used_on_both_sides_cancels_as_in_the_library():
    crate = ufloat(500, 4)
    gross = [ufloat(2_500, 3), ufloat(1_400, 2), ufloat(900, 1)]
    wanted = (gross[0] - crate) - (gross[1] - crate) - (gross[2] - crate)
    parts = [
        (sign, round(one.n) - 500, Sureness(one.s, 4.0, "scale"), 500)
        for sign, one in zip((1, -1, -1), gross, strict=True)
    ]
    found = left_over(parts)
    assert (found.value, found.u) == (wanted.n, pytest.approx(wanted.s))


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="a sign is"):
        left_over([(0, 1, Sureness(1.0, 0.0, "scale"), 0)])
    with pytest.raises(ValueError, match="accuracy_class"):
        sureness(Known(1, scale=Scale("odd", "V", 1, 2)))


def test_only_a_weighing_on_a_named_scale_is_doubted():
    assert [one.code for one in doubts(Known(12_000, scale=BENCH))] == ["below_minimum_load"]
    assert doubts(Known(12_000)) == ()
    assert doubts(Known(12_000, "estimated", scale=BENCH)) == ()
