"""How large figures of a kind usually are."""

import math

import pytest
from scipy.stats import t

from recycling.calc.balance.usual_sizes import Sizes, spread_of, t_density


@pytest.mark.parametrize("z", [0.0, 0.7, -2.3, 9.0])
def test_students_t_of_four_degrees(z):
    # checked against scipy.stats.t
    assert t_density(z) == pytest.approx(t.pdf(z, 4))


def test_the_scale_is_the_median_absolute_deviation_shrunk_to_a_half():
    logs = [0.0, 0.1, 0.2, 0.3, 0.4]
    mad = 1.4826 * 0.1
    expected = math.sqrt((5 * mad**2 + 4 * 0.25) / 9)
    assert spread_of(logs).scale == pytest.approx(expected)
    assert spread_of(logs).middle == 0.2


def seen(masses):
    sizes = Sizes()
    for mass, went_in in masses:
        sizes.see(("shred", "out", "flake"), mass, went_in)
    return sizes.of(("shred", "out", "flake"))


def test_whichever_scatters_less_says_what_is_usual():
    by_share = seen([(0.9 * x, x) for x in (1e5, 7e5, 3e6, 9e6, 2e5, 5e6)])
    assert by_share.density(0.9e6, 1e6) > 3 * by_share.density(0.3e6, 1e6)
    by_mass = seen([(1e6, x) for x in (1e7, 7e7, 3e8, 9e8, 2e7, 5e8)])
    assert by_mass.density(1e6, 5e7) > 3 * by_mass.density(1e5, 5e7)


def test_pieces_of_one_run_are_like_each_other():
    sizes = Sizes()
    for full in (700.0, 820.0, 900.0, 1_000.0):
        for mass in (full, full * 1.01, full * 0.99):
            sizes.see(("extrude", "out", "spool"), mass, 4_000.0)
        sizes.see_beside(("extrude", "out", "spool"), [full, full * 1.01, full * 0.99])
    size = sizes.of(("extrude", "out", "spool"))
    others = [900.0, 905.0]
    assert size.density(900.0, 4_000.0, others) > 3 * size.density(980.0, 4_000.0, others)


def test_nothing_seen_says_nothing():
    sizes = Sizes()
    sizes.see(("a",), 0.0, 1.0)
    assert sizes.of(("a",)) is None
    low, high = seen([(1e6, 0.0)] * 3).range_mg
    assert low < 1e6 < high
