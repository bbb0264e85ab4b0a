import math
import statistics
from decimal import Decimal

import numpy as np
import pytest

from recycling.calc.balance import weighing
from recycling.calc.balance.shared_errors import counted_mass
from shared.measured import Measured
from shared.units import MG_PER_UNIT

NAN = float("nan")

# OIML R 76-1:2006, table 6: for each class the loads in e up to which 0.5 e and 1 e hold, and
# the largest load of the class (table 3; none for class I).
TABLE_6 = [
    ("I", 50_000, 200_000, 10**6),
    ("II", 5_000, 20_000, 100_000),
    ("III", 500, 2_000, 10_000),
    ("IIII", 50, 200, 1_000),
]


class TestMaximumPermissibleError:
    def test_matches_the_published_class_iii_values(self, independent_check):
        # OIML R 76-1 table 6, e = 5 g (figure 8), in grams
        check = independent_check(8)
        found = [
            weighing.maximum_permissible_error_mg(load * 1000, 5_000, "III") / 1000
            for load in check["inputs"]
        ]
        assert found == check["expected"]

    @pytest.mark.parametrize("accuracy_class, half, one, most", TABLE_6)
    def test_steps_where_table_6_steps(self, accuracy_class, half, one, most):
        e = 10
        loads = [0, half * e, half * e + 1, one * e, one * e + 1, most * e]
        limits = [weighing.maximum_permissible_error_mg(m, e, accuracy_class) for m in loads]
        assert limits == [5, 5, 10, 10, 15, 15]

    @pytest.mark.parametrize("accuracy_class, half, one, most", TABLE_6)
    def test_is_twice_that_in_service(self, accuracy_class, half, one, most):
        # OIML R 76-1, 3.5.2
        for load in (half, one, most):
            in_service = weighing.maximum_permissible_error_mg(load, 1, accuracy_class, True)
            assert in_service == 2 * weighing.maximum_permissible_error_mg(load, 1, accuracy_class)

    @pytest.mark.parametrize(
        "load, e, accuracy_class", [(-1, 1, "I"), (NAN, 1, "I"), (1, 0, "I"), (1, 1, "V")]
    )
    def test_refuses_bad_input(self, load, e, accuracy_class):
        with pytest.raises(ValueError, match="load_mg|interval_mg|accuracy_class"):
            weighing.maximum_permissible_error_mg(load, e, accuracy_class)


class TestMinimumLoad:
    @pytest.mark.parametrize(
        "e_mg, accuracy_class, in_e",
        # OIML R 76-1:2006, table 3, lower limit of the smallest capacity
        [(1, "I", 100), (50, "II", 20), (100, "II", 50), (1_000, "III", 20), (5_000, "IIII", 10)],
    )
    def test_matches_table_3(self, e_mg, accuracy_class, in_e):
        assert weighing.minimum_load_mg(e_mg, accuracy_class) == in_e * e_mg

    def test_refuses_an_unknown_class(self):
        with pytest.raises(ValueError, match="accuracy_class must be one of I, II, III, IIII"):
            weighing.minimum_load_mg(1, "3")


class TestReading:
    def test_resolution_is_that_of_the_gum(self):
        # JCGM 100:2008, F.2.2.1: u = 0.29 δx
        assert round(weighing.reading_u_mg(1.0), 2) == 0.29

    def test_limit_is_that_of_the_gum(self):
        # JCGM 100:2008, 4.3.7: u² = a²/3
        assert weighing.reading_u_mg(1e-9, 3.0) ** 2 == pytest.approx(3.0)

    def test_has_the_spread_of_both_distributions(self):
        # closed form of the variance of a sum, held against numpy's random rectangles
        rng = np.random.default_rng(76)
        errors = rng.uniform(-500, 500, 400_000) + rng.uniform(-1000, 1000, 400_000)
        assert weighing.reading_u_mg(1000, 1000) == pytest.approx(errors.std(), rel=0.005)

    def test_takes_the_finer_step_where_one_is_given(self):
        fine = weighing.reading(850_000, 1_000, "III", resolution_mg=100)
        assert fine.u == pytest.approx(math.hypot(100 / math.sqrt(12), 2_000 / math.sqrt(3)))
        assert fine.u < weighing.reading(850_000, 1_000, "III").u

    @pytest.mark.parametrize("resolution, limit", [(0, 1), (-1, 1), (1, -1), (1, NAN)])
    def test_refuses_bad_input(self, resolution, limit):
        with pytest.raises(ValueError, match="resolution_mg|limit_of_error_mg"):
            weighing.reading_u_mg(resolution, limit)


class TestNet:
    def test_subtracts_the_tare(self):
        assert weighing.net(Measured(5, 3.0), Measured(2, 4.0)) == Measured(3, 5.0)

    def test_of_ten_pounds_is_exact(self, independent_check):
        # 1 lb = 0.45359237 kg exactly, NIST SP 811 B.8 (figure 19)
        expected = Decimal(independent_check(19)["expected"][0].removesuffix(" kg"))
        gross_mg = float(10 * MG_PER_UNIT["lb"])
        assert weighing.net(Measured(gross_mg), Measured(0)).value == float(expected * 10**6)
        assert MG_PER_UNIT["oz"] * 16 == MG_PER_UNIT["lb"]

    @pytest.mark.parametrize("gross, tare", [(1, 2), (-1, 0), (1, -1)])
    def test_refuses_what_cannot_be(self, gross, tare):
        with pytest.raises(ValueError, match="tare|gross"):
            weighing.net(Measured(gross), Measured(tare))


class TestWarnings:
    SCALE = {"interval_mg": 1_000, "accuracy_class": "III", "capacity_mg": 6_000_000}

    @pytest.mark.parametrize(
        "gross_mg, codes",
        [
            (20_000, []),
            (19_000, ["below_minimum_load"]),
            (6_000_000, []),
            (6_001_000, ["above_capacity"]),
            (20_500, ["between_steps"]),
            (0, ["below_minimum_load"]),
        ],
    )
    def test_names_what_is_doubtful(self, gross_mg, codes):
        warned = weighing.weighing_warnings(gross_mg, **self.SCALE)
        assert [w.code for w in warned] == codes

    def test_finds_a_scale_that_cannot_be(self):
        warned = weighing.weighing_warnings(20_000, 1_000, "IIII", 6_000_000)
        assert [w.code for w in warned] == ["beyond_class"]
        assert "6000 g" in warned[0].sentence

    def test_takes_the_finer_step_where_one_is_given(self):
        assert not weighing.weighing_warnings(20_100, **self.SCALE, resolution_mg=100)

    def test_says_it_in_grams(self):
        (warning,) = weighing.weighing_warnings(12_000, **self.SCALE)
        assert "12 g" in warning.sentence
        assert "20 g" in warning.sentence

    @pytest.mark.parametrize(
        "change", [{"gross_mg": -1}, {"capacity_mg": 0}, {"resolution_mg": 0}, {"interval_mg": 0}]
    )
    def test_refuses_bad_input(self, change):
        with pytest.raises(ValueError, match=next(iter(change))):
            weighing.weighing_warnings(**({"gross_mg": 1} | self.SCALE | change))


class TestRounded:
    @pytest.mark.parametrize(
        "value, u, up, text",
        [
            # JCGM 100:2008, 7.2.6: 10.057 62 Ω with 27 mΩ; 10.47 mΩ up to 11 mΩ; 28.05 kHz
            (10.05762, 0.027, False, "10.058 ± 0.027"),
            (0.0, 10.47, True, "0 ± 11"),
            (0.0, 28.05, False, "0 ± 28"),
            # JCGM 100:2008, 7.2.2, from memory: m = 100.021 47 g with 0.35 mg
            (100.02147, 0.00035, False, "100.02147 ± 0.00035"),
            # closed form: rounding carries into the next digit
            (5.0, 0.0996, False, "5.00 ± 0.10"),
            (1234.5, 99.6, False, "1230 ± 100"),
            (1234.5, 0.0, False, "1234.5 ± 0"),
            (1e20, 1e-10, False, "100000000000000000000.00000000000 ± 0.00000000010"),
        ],
    )
    def test_shows_the_digits_that_count(self, value, u, up, text):
        assert str(weighing.rounded(Measured(value, u), up=up)) == text

    def test_takes_other_numbers_of_digits(self):
        assert str(weighing.rounded(Measured(10.05762, 0.027), digits=1)) == "10.06 ± 0.03"

    @pytest.mark.parametrize("digits", [0, -1, 1.5])
    def test_refuses_bad_digits(self, digits):
        with pytest.raises(ValueError, match="digits"):
            weighing.rounded(Measured(1.0, 0.1), digits)


class TestMassesNotWeighed:
    def test_of_counted_bottles_has_its_closed_form(self):
        sample = [24_000, 26_500, 25_100, 23_900, 25_500]
        mass = counted_mass(40, sample)
        s = statistics.stdev(sample)
        assert mass.value == pytest.approx(40 * statistics.mean(sample))
        assert mass.u == pytest.approx(40 * s * math.sqrt(1 / 5 + 1 / 40))

    def test_of_counted_bottles_covers_what_they_weigh(self):
        # held against numpy: count 50 normal bottles after sampling 8 of the same kind
        rng = np.random.default_rng(8)
        bottles = rng.normal(25_000, 1_500, (4_000, 58))
        off = [
            abs(counted_mass(50, row[:8].tolist()).value - row[8:].sum())
            / counted_mass(50, row[:8].tolist()).u
            for row in bottles
        ]
        # Student's t with 7 degrees of freedom: 91.4 % within 2 u (scipy.stats.t)
        assert np.mean(np.array(off) < 2) == pytest.approx(0.914, abs=0.015)

    def test_of_counted_bottles_shares_the_scale_error(self):
        assert counted_mass(10, [25, 25], Measured(0.0, 0.5)) == Measured(250.0, 5.0)

    @pytest.mark.parametrize(
        "count, sample", [(0, [1, 2]), (1.5, [1, 2]), (1, []), (1, [5]), (1, [5, 0]), (1, [5, NAN])]
    )
    def test_of_counted_bottles_refuses_bad_input(self, count, sample):
        with pytest.raises(ValueError, match="count|sample_mg"):
            counted_mass(count, sample)

    def test_are_totalled_apart(self):
        masses = [
            ("weighed", Measured(10, 0.3)),
            ("estimated", Measured(7, 2.0)),
            ("weighed", Measured(20, 0.4)),
        ]
        assert weighing.totals_by_how_known(masses) == {
            "weighed": Measured(30, 0.5),
            "counted": Measured(0, 0),
            "estimated": Measured(7, 2.0),
        }

    def test_refuse_another_way_of_knowing(self):
        with pytest.raises(ValueError, match="guessed"):
            weighing.totals_by_how_known([("guessed", Measured(1))])
