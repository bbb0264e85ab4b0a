import statistics

import pytest

from recycling.calc.quality import filament
from shared.measured import Measured

NAN = float("nan")
BAD = [0, -1, NAN]


class TestLengthAndMass:
    def test_match_the_check_values(self, independent_check):
        # geometry of a round thread (figure 20)
        check = independent_check(20)
        d, rho, tolerance = (check["inputs"][key] for key in ("d", "rho", "tol"))
        expected = check["expected"]
        assert round(filament.linear_density_g_per_m(d, rho), 4) == expected["g_per_m"]
        assert round(filament.length_m(1000, d, rho), 2) == expected["m_per_kg"]
        assert round(filament.flow_error_percent(d + tolerance, d), 3) == expected["plus_pct"]
        assert round(filament.flow_error_percent(d - tolerance, d), 3) == expected["minus_pct"]

    def test_agree_with_a_units_library(self):
        import pint

        unit = pint.UnitRegistry()
        area = 3.141592653589793 / 4 * (2.85 * unit.mm) ** 2
        theirs = (area * 12.5 * unit.m * 1.38 * unit.g / unit.cm**3).to("g").magnitude
        assert filament.mass_g(12.5, 2.85, 1.38) == pytest.approx(theirs)

    def test_are_each_others_inverse(self):
        mass = filament.mass_g(331.0, 1.73, 1.38)
        assert filament.length_m(mass, 1.73, 1.38) == pytest.approx(331.0)
        assert filament.implied_diameter_mm(mass, 331.0, 1.38) == pytest.approx(1.73)

    def test_of_nothing_are_zero(self):
        assert filament.length_m(0, 1.75, 1.24) == filament.mass_g(0, 1.75, 1.24) == 0

    @pytest.mark.parametrize("bad", BAD)
    def test_refuse_bad_input(self, bad):
        with pytest.raises(ValueError, match="diameter_mm"):
            filament.linear_density_g_per_m(bad, 1.24)
        with pytest.raises(ValueError, match="density_g_per_cm3"):
            filament.linear_density_g_per_m(1.75, bad)
        with pytest.raises(ValueError, match="length_m"):
            filament.implied_diameter_mm(1.0, bad, 1.24)

    @pytest.mark.parametrize("bad", [-1, NAN])
    def test_refuse_a_negative_mass_or_length(self, bad):
        with pytest.raises(ValueError, match="mass_g"):
            filament.length_m(bad, 1.75, 1.24)
        with pytest.raises(ValueError, match="length_m"):
            filament.mass_g(bad, 1.75, 1.24)


class TestMetresLeft:
    def test_agrees_with_the_uncertainties_library(self):
        import math

        from uncertainties import ufloat

        ours = filament.metres_left(
            Measured(640, 1.2), Measured(215, 0.8), Measured(1.74, 0.02), Measured(1.38, 0.01)
        )
        d, rho = ufloat(1.74, 0.02), ufloat(1.38, 0.01)
        theirs = (ufloat(640, 1.2) - ufloat(215, 0.8)) * 4 / (math.pi * d**2 * rho)
        assert ours.value == pytest.approx(theirs.nominal_value)
        assert ours.u == pytest.approx(theirs.std_dev)

    def test_of_an_empty_spool_is_zero(self):
        spool = Measured(215.0, 1.0)
        assert filament.metres_left(spool, spool, Measured(1.75), Measured(1.24)).value == 0

    @pytest.mark.parametrize(
        "gross, tare, d, rho, message",
        [
            (100, 200, 1.75, 1.24, "outweighs"),
            (100, -1, 1.75, 1.24, "tare_g"),
            (100, 50, 0, 1.24, "diameter_mm"),
            (100, 50, 1.75, -1, "density"),
        ],
    )
    def test_refuses_bad_input(self, gross, tare, d, rho, message):
        with pytest.raises(ValueError, match=message):
            filament.metres_left(Measured(gross), Measured(tare), Measured(d), Measured(rho))


class TestDiameter:
    def test_ovality_has_its_closed_form(self):
        # |a - b| over the mean axis: 0.06/1.75
        assert filament.ovality_percent(1.78, 1.72) == pytest.approx(100 * 0.06 / 1.75)
        assert filament.ovality_percent(1.72, 1.78) == filament.ovality_percent(1.78, 1.72)
        assert filament.ovality_percent(1.75, 1.75) == 0

    @pytest.mark.parametrize("bad", BAD)
    @pytest.mark.parametrize(
        "figure",
        [filament.ovality_percent, filament.flow_error_percent],
    )
    def test_refuses_bad_axes(self, figure, bad):
        with pytest.raises(ValueError, match="_mm must be"):
            figure(bad, 1.75)
        with pytest.raises(ValueError, match="_mm must be"):
            figure(1.75, bad)

    def test_check_agrees_with_the_statistics_module(self):
        readings = [1.74, 1.76, 1.73, 1.78, 1.75]
        check = filament.diameter_check(readings, 1.75, 0.05)
        assert check.mean_mm == pytest.approx(statistics.mean(readings))
        assert check.sd_mm == pytest.approx(statistics.stdev(readings))
        assert (check.smallest_mm, check.largest_mm, check.readings) == (1.73, 1.78, 5)
        assert check.within

    def test_check_takes_the_limit_itself_as_within(self):
        assert filament.diameter_check([1.70, 1.80], 1.75, 0.05).within

    def test_check_names_what_is_outside(self):
        check = filament.diameter_check([1.69, 1.75, 1.81], 1.75, 0.05)
        assert (check.outside, check.within) == ((0, 2), False)
        assert check.least_flow_percent < 0 < check.most_flow_percent

    def test_check_of_one_reading_has_no_spread(self):
        assert filament.diameter_check([1.75], 1.75, 0.05).sd_mm is None

    @pytest.mark.parametrize(
        "readings, nominal, tolerance, message",
        [
            ([], 1.75, 0.05, "readings_mm needs"),
            ([0], 1.75, 0.05, "readings_mm"),
            ([NAN], 1.75, 0.05, "readings_mm"),
            ([1.75], 0, 0.05, "nominal_mm"),
            ([1.75], 1.75, -0.05, "tolerance_mm"),
        ],
    )
    def test_check_refuses_bad_input(self, readings, nominal, tolerance, message):
        with pytest.raises(ValueError, match=message):
            filament.diameter_check(readings, nominal, tolerance)
