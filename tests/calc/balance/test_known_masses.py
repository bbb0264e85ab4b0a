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

from recycling.calc.balance.known_masses import Assumed, Known, Scale, Sureness, doubts, left_over
from recycling.calc.balance.known_masses import sureness as judged
from shared.measured import Source

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
    of_tare = by_hand(400_000, 1_000, 0.5)
    assert sure.u_mg == pytest.approx(math.hypot(by_hand(1_200_000, 1_000, 1.0), of_tare))
    assert [part for source, part in sure.parts.items() if source.kind == "tare"] == [
        pytest.approx(-of_tare)
    ]


def test_without_a_name_the_coarsest_scale_that_carries_it_is_assumed():
    assert sureness(Known(500_000), [FINE, BENCH]).basis == "assumed scale"
    assert sureness(Known(500_000), [FINE, BENCH]).u_mg == sureness(Known(500_000), [BENCH]).u_mg
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
    told = sureness(Known(100, "estimated", u_mg=7.0))
    assert (told.u_mg, told.basis) == (7.0, "stated")


@pytest.mark.parametrize("bottles", [2, 3, 5, 20])
@pytest.mark.parametrize("grams", [8, 25, 90])
def test_without_a_scale_a_sample_is_no_worse_than_none(bottles, grams):
    alike = (1_000 * grams,) * bottles  # all of one mass, so that only the scale's part is left
    said = {"mass_mg": 100_000 * grams, "how": "counted", "count": 100}
    assumed = Assumed(counted_share=0.1, estimated_share=0.2, interval_mg=5_000)
    of_sample, of_none = (
        judged(Known(**said, **more), (), assumed).u_mg for more in ({"sample_mg": alike}, {})
    )
    assert 0 < of_sample <= of_none


def test_a_sample_was_weighed_on_a_scale_that_could_show_it():
    floor = Scale("floor", "III", 50_000, 300_000_000)
    known = Known(2_500_000, "counted", count=100, sample_mg=(24_120, 25_880))
    assert sureness(known, [floor, FINE]).u_mg == sureness(known, [FINE]).u_mg


def crate(number: int, gross_mg: float) -> Sureness:
    return Sureness({Source("steps", number): gross_mg, Source("tare", "crate"): 4.0}, "scale")


def test_a_tare_that_is_used_on_both_sides_cancels_as_in_the_library():
    tare = ufloat(500, 4)
    gross = [ufloat(2_500, 3), ufloat(1_400, 2), ufloat(900, 1)]
    wanted = (gross[0] - tare) - (gross[1] - tare) - (gross[2] - tare)
    parts = [
        (sign, round(one.n) - 500, crate(number, one.s))
        for number, (sign, one) in enumerate(zip((1, -1, -1), gross, strict=True))
    ]
    found = left_over(parts)
    assert (found.value, found.u) == (wanted.n, pytest.approx(wanted.s))


def test_one_scale_cancels_between_what_went_in_and_came_out_and_one_not_named_does_not():
    steps = math.hypot(1_000, 1_000) / math.sqrt(12)

    def left(scale, scales):
        masses = ((1, 800_000, "dry, in"), (-1, 790_000, "dry, out"))
        return left_over(
            (sign, mass_mg, sureness(Known(mass_mg, scale=scale, number=n, place=place), scales))
            for n, (sign, mass_mg, place) in enumerate(masses)
        ).u

    assert left(BENCH, [BENCH, FINE]) == pytest.approx(steps)
    assert left(None, [BENCH]) == pytest.approx(steps)
    assert left(None, [BENCH, FINE]) == pytest.approx(math.sqrt(2) * by_hand(800_000, 1_000, 1.0))


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="a sign is"):
        left_over([(0, 1, crate(1, 1.0))])
    with pytest.raises(ValueError, match="accuracy_class"):
        sureness(Known(1, scale=Scale("odd", "V", 1, 2)))


def test_only_a_weighing_on_a_named_scale_is_doubted():
    assert [one.code for one in doubts(Known(12_000, scale=BENCH))] == ["below_minimum_load"]
    assert doubts(Known(12_000)) == ()
    assert doubts(Known(12_000, "estimated", scale=BENCH)) == ()
