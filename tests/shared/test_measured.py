import math

import pytest

from shared.measured import Measured, propagate, total, total_with_shared_tares

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


class TestPropagate:
    def test_cancels_what_occurs_twice(self):
        # closed form: x - x is exactly zero, whatever u(x) is
        assert propagate(lambda x: x - x, {"x": Measured(5.0, 1.0)}) == Measured(0.0, 0.0)

    def test_takes_a_constant(self):
        assert propagate(lambda x: 3.0, {"x": Measured(5.0, 1.0)}) == Measured(3.0, 0.0)

    def test_refuses_a_division_by_zero(self):
        with pytest.raises(ValueError, match="divides by a measured value of zero"):
            propagate(lambda x, y: x / y, {"x": Measured(1.0), "y": Measured(0.0)})


class TestTotalWithSharedTares:
    # u² = Σ u_gross² + Σ (net uses · u_tare)²: JCGM 100:2008, 5.2.2, written out by hand
    CRATE = {"crate": Measured(500.0, 3.0), "tub": Measured(50.0, 0.5)}

    def test_lets_a_shared_tare_cancel(self):
        terms = [(1, Measured(2500.0, 1.0), "crate"), (-1, Measured(900.0, 2.0), "crate")]
        result = total_with_shared_tares(terms, self.CRATE)
        assert result.value == 1600
        assert result.u == pytest.approx(math.hypot(1, 2))

    def test_adds_up_a_tare_used_twice_on_one_side(self):
        terms = [(1, Measured(2500.0, 1.0), "crate"), (1, Measured(2600.0, 1.0), "crate")]
        result = total_with_shared_tares(terms, self.CRATE)
        assert result.value == 4100
        assert result.u == pytest.approx(math.hypot(1, 1, 6))

    def test_leaves_a_reading_without_container_alone(self):
        terms = [(1, Measured(2500.0, 1.0), None), (-1, Measured(900.0, 1.0), "tub")]
        result = total_with_shared_tares(terms, self.CRATE)
        assert result.value == 1650
        assert result.u == pytest.approx(math.hypot(1, 1, 0.5))

    def test_of_no_terms_is_zero(self):
        assert total_with_shared_tares([], self.CRATE) == Measured(0, 0.0)

    @pytest.mark.parametrize(
        "term, message",
        [
            ((2, Measured(1.0), None), "a sign is"),
            ((1, Measured(1.0), "pail"), "no tare is known for the container 'pail'"),
        ],
    )
    def test_refuses_bad_terms(self, term, message):
        with pytest.raises(ValueError, match=message):
            total_with_shared_tares([term], self.CRATE)
