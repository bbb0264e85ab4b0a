import numpy as np
import pytest

from recycling.calc.process.washout import Barrel, mean_residue, purge_mass_g, refit_holdup, washout

NAN = float("nan")
BARRELS = [
    Barrel(41.5),
    Barrel(41.5, 0.5),
    Barrel(41.5, 0.0, 3),
    Barrel(60.0, 0.3, 5),
    Barrel(41.5, 1.0),
]


class TestPurgeMass:
    def test_matches_the_check_values(self, independent_check):
        # Levenspiel 1999, ch. 13-14, in closed form (figure 18)
        check = independent_check(18)
        holdup, residue = check["inputs"]["H"], check["inputs"]["eps"]
        expected = check["expected"]
        assert round(purge_mass_g(residue, Barrel(holdup)), 3) == expected["cstr"]
        assert round(purge_mass_g(residue, Barrel(holdup, 0.5)), 3) == expected["plug_half"]
        assert round(purge_mass_g(residue, Barrel(holdup, 0.0, 3)), 3) == expected["tanks3"]

    @pytest.mark.parametrize("barrel", BARRELS[:4])
    @pytest.mark.parametrize("residue", [0.5, 0.01, 1e-6])
    def test_is_the_inverse_of_washout(self, barrel, residue):
        assert washout(purge_mass_g(residue, barrel), barrel) == pytest.approx(residue)

    def test_of_a_plug_is_one_holdup(self):
        assert purge_mass_g(0.01, Barrel(41.5, 1.0)) == 41.5

    @pytest.mark.parametrize("residue", [0, 1, -0.1, NAN])
    def test_refuses_a_bad_residue(self, residue):
        with pytest.raises(ValueError, match="residue"):
            purge_mass_g(residue, Barrel(41.5))


def stepped(mass_g, barrel, parcels=20_000):
    """Outflow of a plug and tanks in series, stepped in small parcels of feed."""
    plug_g = barrel.plug_share * barrel.holdup_g
    tank_g = (barrel.holdup_g - plug_g) / barrel.tanks
    if mass_g < plug_g:
        return 1.0
    tanks, parcel_g = np.ones(barrel.tanks), (mass_g - plug_g) / parcels
    for _ in range(parcels):
        feed = np.concatenate(([0.0], tanks[:-1]))
        tanks = tanks + (feed - tanks) * parcel_g / tank_g
    return float(tanks[-1])


class TestWashout:
    @pytest.mark.parametrize("barrel", BARRELS[:4])
    @pytest.mark.parametrize("mass_g", [5.0, 60.0, 150.0])
    def test_agrees_with_stepping_small_parcels(self, barrel, mass_g):
        assert washout(mass_g, barrel) == pytest.approx(stepped(mass_g, barrel), abs=2e-4)

    def test_of_a_plug_is_all_or_nothing(self):
        assert washout(41.4, Barrel(41.5, 1.0)) == 1
        assert washout(41.5, Barrel(41.5, 1.0)) == 0

    @pytest.mark.parametrize("mass", [-1, NAN])
    def test_refuses_a_bad_mass(self, mass):
        with pytest.raises(ValueError, match="mass_g"):
            washout(mass, Barrel(41.5))


class TestMeanResidue:
    def test_matches_the_check_value(self):
        # closed form H/m·ε(1 - e^(-m/H)), H 41.5 g, m 1 kg, ε 1 %: 0.0415 %
        assert round(100 * mean_residue(191.1, 1000, Barrel(41.5)), 4) == 0.0415

    @pytest.mark.parametrize("barrel", BARRELS)
    @pytest.mark.parametrize("purged_g, next_g", [(0, 10), (0, 500), (15, 40), (200, 100)])
    def test_agrees_with_numerical_integration(self, barrel, purged_g, next_g):
        from scipy.integrate import quad

        edge = barrel.plug_share * barrel.holdup_g
        inside = [edge] if purged_g < edge < purged_g + next_g else None
        area, _ = quad(washout, purged_g, purged_g + next_g, (barrel,), points=inside, limit=200)
        assert mean_residue(purged_g, next_g, barrel) == pytest.approx(area / next_g, abs=1e-9)

    @pytest.mark.parametrize("barrel", BARRELS)
    def test_of_a_long_run_without_purge_is_the_holdup(self, barrel):
        # conservation: all that was in the barrel comes out
        assert 1e5 * mean_residue(0, 1e5, barrel) == pytest.approx(barrel.holdup_g)

    @pytest.mark.parametrize("purged, following", [(-1, 1), (NAN, 1), (1, 0)])
    def test_refuses_bad_masses(self, purged, following):
        with pytest.raises(ValueError, match="purged_g|next_g"):
            mean_residue(purged, following, Barrel(41.5))


class TestRefitHoldup:
    @pytest.mark.parametrize("barrel", BARRELS)
    def test_finds_the_holdup_again(self, barrel):
        uses = [(purge_mass_g(e, barrel), e) for e in (0.1, 0.01, 0.001)]
        fit = refit_holdup(uses, barrel.plug_share, barrel.tanks)
        assert fit.holdup_g == pytest.approx(barrel.holdup_g)
        assert fit.u_holdup_g == pytest.approx(0, abs=1e-9)

    def test_agrees_with_least_squares_of_scipy(self):
        from scipy.optimize import curve_fit

        uses = [(180.0, 0.01), (205.0, 0.01), (90.0, 0.1), (300.0, 0.001)]
        turnovers = [np.log(1 / residue) for _, residue in uses]
        holdup, covariance = curve_fit(lambda f, h: h * f, turnovers, [m for m, _ in uses], [40.0])
        fit = refit_holdup(uses)
        assert fit.holdup_g == pytest.approx(holdup[0])
        assert fit.u_holdup_g == pytest.approx(covariance[0, 0] ** 0.5, rel=1e-5)

    def test_of_one_use_has_no_spread(self):
        fit = refit_holdup([(191.115, 0.01)])
        assert (round(fit.holdup_g, 3), fit.u_holdup_g, fit.uses) == (41.5, None, 1)

    @pytest.mark.parametrize(
        "uses, message",
        [([], "uses needs"), ([(0, 0.01)], "used_g"), ([(1, 0)], "residue"), ([(1, 1)], "residue")],
    )
    def test_refuses_bad_uses(self, uses, message):
        with pytest.raises(ValueError, match=message):
            refit_holdup(uses)


@pytest.mark.parametrize(
    "holdup, plug, tanks",
    [(0, 0, 1), (NAN, 0, 1), (1, 1.1, 1), (1, -0.1, 1), (1, 0, 0), (1, 0, 1.5)],
)
def test_a_bad_barrel_is_refused(holdup, plug, tanks):
    with pytest.raises(ValueError, match="holdup_g|plug_share|tanks"):
        Barrel(holdup, plug, tanks)
