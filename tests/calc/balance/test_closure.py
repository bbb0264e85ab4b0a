import pytest

from recycling.calc.balance.closure import Reading, closure, likely_slips, unaccounted, worst_first
from shared.measured import Measured

U = 2_000.0
"""u(r) of the runs below: 2 g, in mg."""


def kinds(*args, **more):
    return [slip.kind for slip in likely_slips(*args, **more)]


class TestUnaccounted:
    def test_matches_the_loss_by_difference(self):
        # JCGM 100:2008, 5.1.2, by hand in kg, √(0.05² + 0.05² + 0.02²): 0.60 ± 0.147 (k = 2)
        parts = [[Measured(12.50, 0.05)], [Measured(10.80, 0.05)], [Measured(1.10, 0.02)]]
        r = unaccounted(*parts)
        assert round(r.value, 2) == 0.60
        assert round(2 * r.u, 3) == 0.147
        assert closure(r).state == "open"
        assert closure(r).direction == "loss"

    def test_of_an_empty_run_is_zero(self):
        assert closure(unaccounted([], [])).direction == "even"


class TestClosure:
    @pytest.mark.parametrize(
        "r, state, direction",
        # the bounds are 2 u(r) and 3 u(r), both included
        [
            (0.0, "closed within weighing", "even"),
            (2.0, "closed within weighing", "loss"),
            (-2.0, "closed within weighing", "gain"),
            (2.001, "to look at", "loss"),
            (-3.0, "to look at", "gain"),
            (3.001, "open", "loss"),
            (-9.0, "open", "gain"),
        ],
    )
    def test_is_judged_by_its_uncertainty(self, r, state, direction):
        judged = closure(Measured(r, 1.0))
        assert (judged.state, judged.direction) == (state, direction)

    def test_without_uncertainty_takes_only_zero_as_closed(self):
        assert closure(Measured(0.0, 0.0)).state == "closed within weighing"
        assert closure(Measured(1.0, 0.0)).state == "open"


class TestWorstFirst:
    def test_ranks_by_state_then_ratio_then_size_then_name(self):
        runs = {
            "fine": Measured(1.0, 1.0),
            "doubtful": Measured(2.5, 1.0),
            "open, small": Measured(-4.0, 1.0),
            "open, large": Measured(40.0, 10.0),
            "open, surely": Measured(5.0, 1.0),
            "exact": Measured(1.0, 0.0),
            "even": Measured(0.0, 0.0),
            "also fine": Measured(1.0, 1.0),
        }
        ranked = worst_first({name: closure(r) for name, r in runs.items()})
        assert ranked == [
            "exact",
            "open, surely",
            "open, large",
            "open, small",
            "doubtful",
            "also fine",
            "fine",
            "even",
        ]


class TestLikelySlips:
    # Each test makes the slip on purpose: closed form of what it adds to r.
    CRATE = {"blue crate": 1_200_000.0}

    def test_names_none_for_a_closed_run(self):
        bag = Reading("bag", "in", 1_200_000)
        assert likely_slips(Measured(3_999.0, U), [bag], self.CRATE) == []

    def test_finds_a_forgotten_tare(self):
        bag = Reading("bag", "in", 8_700_000)
        (slip,) = likely_slips(Measured(1_201_000.0, U), [bag], self.CRATE)
        assert slip.kind == "tare forgotten"
        assert slip.labels == ("bag",)
        assert (slip.effect_mg, slip.left_mg) == (1_200_000, 1_000)

    def test_finds_a_tare_forgotten_on_what_came_out(self):
        bags = [Reading("bag", "in", 8_700_000), Reading("flake", "out", 7_300_000)]
        (slip,) = likely_slips(Measured(-1_200_000.0, U), bags, self.CRATE)
        assert slip.labels == ("flake",)

    @pytest.mark.parametrize("times", [2, 3, 5])
    def test_finds_multiples_of_a_tare(self, times):
        bag = Reading("bag", "in", 8_700_000)
        (slip,) = likely_slips(Measured(times * 1_200_000.0, U), [bag], self.CRATE)
        assert f"({times} of them)" in slip.sentence

    def test_tries_no_more_multiples_than_asked(self):
        bag = Reading("bag", "in", 8_700_000)
        assert kinds(Measured(3_600_000.0, U), [bag], self.CRATE, most_tares=2) == []

    @pytest.mark.parametrize("times, words", [(1, "1 time too"), (2, "2 times too")])
    def test_finds_a_tare_taken_too_often(self, times, words):
        bag = Reading("bag", "out", 8_700_000, 1_200_000, ("blue crate",))
        (slip,) = likely_slips(Measured(times * 1_200_000.0, U), [bag], self.CRATE)
        assert slip.kind == "tare taken twice"
        assert words in slip.sentence

    def test_does_not_call_a_tare_forgotten_that_was_taken(self):
        bag = Reading("bag", "in", 8_700_000, 1_200_000, ("blue crate",))
        assert kinds(Measured(1_200_000.0, U), [bag], self.CRATE) == []

    def test_does_not_find_a_tare_in_a_reading_lighter_than_it(self):
        assert kinds(Measured(1_200_000.0, U), [Reading("bag", "in", 900_000)], self.CRATE) == []

    def test_lists_all_readings_that_it_may_be(self):
        bags = [Reading(name, "in", mass) for name, mass in (("a", 9e6), ("b", 8e6), ("c", 7e6))]
        (slip,) = likely_slips(Measured(1_200_000.0, U), bags, self.CRATE)
        assert slip.sentence.endswith("off a, b or c.")

    def test_finds_a_reading_entered_twice(self):
        bags = [Reading("bag 1", "in", 3_456_000), Reading("bag 2", "in", 3_456_000)]
        (slip,) = likely_slips(Measured(3_455_000.0, U), bags)
        assert slip.kind == "entered twice"
        assert slip.labels == ("bag 1", "bag 2")

    def test_does_not_take_a_reading_on_each_side_for_a_repeat(self):
        bags = [Reading("bag", "in", 3_456_000), Reading("flake", "out", 3_456_000)]
        assert "entered twice" not in kinds(Measured(3_456_000.0, U), bags)

    @pytest.mark.parametrize(
        "typed, right, gross_mg, unit_mg",
        [
            ("12.54", "12.45", 12_540_000, 10**6),  # neighbours
            ("52.14", "12.54", 52_140_000, 10**6),  # across the point
            ("3,07", "0,37", 3_070_000, 10**6),  # a decimal comma
            ("", "1235", 1_325_000, 10**3),  # no text kept: the digits of the mass
        ],
    )
    def test_finds_two_digits_swapped(self, typed, right, gross_mg, unit_mg):
        true_mg = float(right.replace(",", ".")) * unit_mg
        bag = Reading("bag", "in", gross_mg, typed=typed)
        slips = likely_slips(Measured(gross_mg - true_mg, U), [bag])
        assert slips[0].kind == "digits swapped"
        assert slips[0].left_mg == pytest.approx(0, abs=1)

    def test_says_swapped_masses_with_their_unit_where_no_text_was_kept(self):
        (slip,) = likely_slips(Measured(90_000.0, U), [Reading("bag", "in", 1_325_000)])[:1]
        assert slip.sentence == "Two digits of bag may be swapped: 1325 g for 1235 g."

    def test_names_neighbours_first_where_two_swaps_would_do(self):
        bag = Reading("bag", "in", 2_112_000, typed="2112")
        sentences = [s.sentence for s in likely_slips(Measured(891_000.0, U * 200), [bag])]
        assert "1212" in sentences[0]

    @pytest.mark.parametrize("side, sign", [("in", 1), ("out", -1)])
    @pytest.mark.parametrize(
        "typed, shown, factor",
        # NIST SP 811 B.8: 1 oz = 28.349523125 g, 1 lb = 0.45359237 kg, exact
        [
            ("g", "oz", 28.349523125),
            ("oz", "g", 1 / 28.349523125),
            ("kg", "lb", 0.45359237),
            ("lb", "kg", 1 / 0.45359237),
        ],
    )
    def test_finds_a_unit_mistaken(self, side, sign, typed, shown, factor):
        bag = Reading("bag", side, 5_678_000, typed="5678")
        r = sign * 5_678_000 * (1 - factor)
        (slip,) = likely_slips(Measured(r, U), [bag])
        assert slip.kind == "unit mistaken"
        assert slip.sentence == f"bag may have been read in {shown} and entered in {typed}."

    def test_does_not_put_right_what_would_weigh_less_than_its_tare(self):
        bag = Reading("bag", "in", 6_578_000, 6_000_000, typed="6578")
        for right_mg in (5_678_000, 6_578_000 * 0.45359237):  # swapped; pounds
            assert kinds(Measured(6_578_000 - right_mg, U), [bag]) == []

    def test_with_no_uncertainty_still_allows_the_step_of_the_book(self):
        bag = Reading("bag", "in", 8_700_000)
        (slip,) = likely_slips(Measured(1_200_001.0, 0.0), [bag], self.CRATE)
        assert slip.left_mg == 1

    def test_does_not_name_a_slip_smaller_than_the_uncertainty(self):
        bag, lid = Reading("bag", "in", 9e6), {"lid": 3_900.0}
        assert kinds(Measured(4_100.0, U), [bag], lid, most_tares=1) == []

    def test_ranks_the_best_explanation_first(self):
        bags = [Reading("bag", "in", 8_700_000)]
        slips = likely_slips(Measured(1_200_500.0, U), bags, {"a": 1_203_000, "b": 1_200_000})
        assert [slip.left_mg for slip in slips] == [500, -2_500]

    def test_passes_by_a_reading_of_zero(self):
        assert kinds(Measured(9_999.0, U), [Reading("bag", "in", 0, typed="0.0")]) == []
        assert kinds(Measured(9_999.0, U), [Reading("bag", "in", 0)]) == []

    @pytest.mark.parametrize(
        "more, message",
        [
            ({"tares_mg": {"lid": 0}}, "the tare of lid"),
            ({"tares_mg": {"lid": float("nan")}}, "the tare of lid"),
            ({"most_tares": 0}, "most_tares"),
        ],
    )
    def test_refuses_bad_settings(self, more, message):
        with pytest.raises(ValueError, match=message):
            likely_slips(Measured(1e6, 1.0), [], **more)

    def test_refuses_a_typed_figure_that_is_none(self):
        with pytest.raises(ValueError, match="'12 kg' of bag is no number"):
            likely_slips(Measured(1e6, 1.0), [Reading("bag", "in", 12e6, typed="12 kg")])

    @pytest.mark.parametrize("side, gross, tare", [("up", 1, 0), ("in", -1, 0), ("in", 1, -1)])
    def test_refuses_a_bad_reading(self, side, gross, tare):
        with pytest.raises(ValueError, match="side|gross_mg|tare_mg"):
            Reading("bag", side, gross, tare)
