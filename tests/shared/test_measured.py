import math

import pytest

from shared.measured import Measured, Source, combined, total

NAN, INF = float("nan"), float("inf")


class TestMeasured:
    def test_combines_the_end_gauge_of_the_gum(self):
        # JCGM 100:2008, H.1: parts of the length of an end gauge, table H.1, in nm; the
        # combined standard uncertainty is given there as 32 nm.
        length = total([Measured(50_000_838, u) for u in (25, 9.7, 2.9, 16.6)])
        assert round(length.u) == 32

    def test_combines_a_difference(self):
        # JCGM 100:2008, H.1.3.2: three parts make 9.7 nm; the parts are from memory.
        difference = Measured(215, 5.8) - Measured(0, 3.9) - Measured(0, 6.7)
        assert difference.value == 215
        assert round(difference.u, 1) == 9.7

    @pytest.mark.parametrize("operator", ["__add__", "__sub__", "__mul__", "__truediv__"])
    def test_agrees_with_the_uncertainties_library(self, operator):
        from uncertainties import ufloat

        a, b = Measured(74.0, 0.3), Measured(-80.0, 0.4)
        ours = getattr(a, operator)(b)
        theirs = getattr(ufloat(a.value, a.u), operator)(ufloat(b.value, b.u))
        assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-12)
        assert ours.u == pytest.approx(theirs.std_dev, rel=1e-12)

    def test_turns_its_sign(self):
        assert -Measured(2.0, 0.5) == Measured(-2.0, 0.5)

    def test_gives_an_interval(self):
        assert Measured(0.6, 0.0735).interval(k=2) == pytest.approx((0.453, 0.747))

    @pytest.mark.parametrize("value, u", [(NAN, 0), (INF, 0), (1, NAN), (1, INF), (1, -0.1)])
    def test_refuses_bad_numbers(self, value, u):
        with pytest.raises(ValueError, match=r"finite number|cannot be negative"):
            Measured(value, u)

    @pytest.mark.parametrize("value", [None, "12", True, 1j])
    def test_refuses_what_is_no_number(self, value):
        with pytest.raises(ValueError, match="value must be a finite number"):
            Measured(value)

    def test_refuses_to_divide_by_zero(self):
        with pytest.raises(ValueError, match="divide by a measured value of zero"):
            Measured(1.0) / Measured(0.0, 0.1)

    @pytest.mark.parametrize("k", [0, -1, NAN, "2"])
    def test_refuses_a_bad_coverage_factor(self, k):
        with pytest.raises(ValueError, match="coverage factor"):
            Measured(1.0).interval(k)


class TestTotal:
    def test_of_nothing_is_exactly_zero(self):
        assert total([]) == Measured(0.0, 0.0)


class TestWhatIsShared:
    # c of a ± b is c_a ± c_b source by source: JCGM 100:2008, 5.1.3, 5.2.2, written out by hand
    CRATE = Measured(500.0, 3.0)
    TUB = Measured(50.0, 0.5)

    def test_cancels_what_occurs_twice(self):
        # closed form: x - x is exactly zero, x/x exactly one, whatever u(x) is
        x = Measured(5.0, 1.0)
        assert (x - x, x / x) == (Measured(0.0, 0.0), Measured(1.0, 0.0))

    def test_agrees_with_the_uncertainties_library_where_inputs_recur(self):
        from uncertainties import ufloat

        ours = (Measured(74.0, 0.3), Measured(80.0, 0.4), Measured(3.0, 0.2))
        theirs = tuple(ufloat(one.value, one.u) for one in ours)

        def formula(a, b, c):
            return (a * b - c * c) / (a + b + c) - a / b

        found, wanted = formula(*ours), formula(*theirs)
        assert found.value == pytest.approx(wanted.nominal_value, rel=1e-12)
        assert found.u == pytest.approx(wanted.std_dev, rel=1e-12)

    def test_lets_a_shared_tare_cancel(self):
        result = (Measured(2500.0, 1.0) - self.CRATE) - (Measured(900.0, 2.0) - self.CRATE)
        assert result == Measured(1600.0, math.hypot(1, 2))

    def test_adds_up_a_tare_used_twice_on_one_side(self):
        result = total(gross - self.CRATE for gross in (Measured(2500, 1.0), Measured(2600, 1.0)))
        assert result.value == 4100
        assert result.u == pytest.approx(math.hypot(1, 1, 6))

    def test_names_its_sources_with_their_signs(self):
        scale = Source("scale", "bench")
        gross = Measured.of(10.0, {scale: 0.3, Source("steps", 1): 0.1})
        net = gross - Measured.of(4.0, {scale: 0.2})
        assert net.parts[scale] == pytest.approx(0.1)
        assert net.u == pytest.approx(math.hypot(0.1, 0.1))
        assert net.times(-3).parts[scale] == pytest.approx(-0.3)

    def test_takes_sensitivities_that_are_handed_in(self):
        side = Measured(3.0, 0.1)
        assert combined(9.0, [(side, 3.0), (side, 3.0)]).u == pytest.approx(0.6)

    def test_refuses_a_result_that_is_no_number(self):
        with pytest.raises(ValueError, match="finite number"):
            combined(NAN, [])
