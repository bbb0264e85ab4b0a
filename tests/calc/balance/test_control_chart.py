import pytest

from recycling.calc.balance.control_chart import RULES, individuals_chart

FLOWRATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""NIST/SEMATECH e-Handbook, 6.3.2.2: ten batches."""


def rules(values, **more):
    return [(s.place, s.rule) for s in individuals_chart(values, **more).signals]


class TestIndividualsChart:
    def test_matches_the_handbook(self, independent_check):
        # NIST/SEMATECH e-Handbook, 6.3.2.2 (figure 10)
        check = independent_check(10)
        chart = individuals_chart(check["inputs"])
        assert round(chart.mean, 2) == check["expected"]["mean"]
        assert round(chart.mean_moving_range, 4) == check["expected"]["mr"]
        assert round(chart.upper, 4) == check["expected"]["ucl"]
        assert round(chart.lower, 4) == check["expected"]["lcl"]
        # there: the process is in control, since none of the points is outside
        assert chart.signals == ()

    def test_limits_follow_the_factors_of_the_handbook(self):
        # NIST/SEMATECH e-Handbook, 6.3.2.2: E2 = 2.660, D4 = 3.267
        chart = individuals_chart(FLOWRATE)
        assert (chart.upper - chart.mean) / chart.mean_moving_range == pytest.approx(2.66, abs=5e-4)
        assert chart.range_upper == pytest.approx(3.267 * chart.mean_moving_range)

    @pytest.mark.parametrize("far", [70.0, 30.0])
    def test_names_a_point_outside_and_the_steps_to_it(self, far):
        chart = individuals_chart(
            [*FLOWRATE, *FLOWRATE, far], labels=[f"run {i}" for i in range(21)]
        )
        assert [(s.place, s.rule) for s in chart.signals] == [
            (20, "beyond a limit"),
            (20, "range beyond its limit"),
        ]
        assert chart.signals[0].sentence == f"run 20: {RULES['beyond a limit']}"

    def test_of_equal_values_has_no_signals(self):
        chart = individuals_chart([5.0, 5.0, 5.0], run_rules=True)
        assert (chart.lower, chart.upper, chart.signals) == (5.0, 5.0, ())

    def test_numbers_points_without_labels(self):
        assert individuals_chart([1, 2]).labels == ("1", "2")

    @pytest.mark.parametrize("count, provisional", [(19, True), (20, False)])
    def test_is_provisional_with_few_points(self, count, provisional):
        assert individuals_chart(list(range(count))).provisional is provisional

    @pytest.mark.parametrize(
        "values, labels, message",
        [
            ([], None, "at least 2"),
            ([1.0], None, "at least 2"),
            ([1.0, float("nan")], None, "finite"),
            ([1.0, 2.0], ["one"], "2 values but 1 labels"),
        ],
    )
    def test_refuses_bad_input(self, values, labels, message):
        with pytest.raises(ValueError, match=message):
            individuals_chart(values, labels)


class TestRunRules:
    # NIST/SEMATECH e-Handbook, 6.3.2, the Western Electric and trend rules. The series below
    # zigzag by 1.128 around zero, so that sigma is near one, and then break one rule.
    CALM = [0.564, -0.564] * 20

    def test_are_off_unless_asked_for(self):
        trend = [0, 3, 0, 3, 0, 1, 2, 3, 4, 5]
        assert rules(trend) == []
        assert rules(trend, run_rules=True) != []

    @pytest.mark.parametrize("side", [1, -1])
    @pytest.mark.parametrize(
        "tail, rule",
        [
            ([2.6, 0.5, 2.6], "two of three beyond 2 sigma"),
            ([1.6, 1.6, 0.2, 1.6, 1.6], "four of five beyond 1 sigma"),
            ([0.8] * 8, "eight on one side"),
        ],
    )
    def test_find_a_run_on_one_side(self, side, tail, rule):
        values = [side * x for x in (*self.CALM, *tail)]
        found = rules(values, run_rules=True)
        assert (len(values) - 1, rule) in found
        assert (len(values) - 2, rule) not in found

    @pytest.mark.parametrize("side", [1, -1])
    def test_find_a_trend_of_six(self, side):
        values = [side * x for x in (0, 1, 0, 1, 2, 3, 4, 5, 4)]
        found = [place for place, rule in rules(values, run_rules=True) if rule == "six in a trend"]
        assert found == [7]

    def test_find_fourteen_alternating(self):
        values = [0, 0, *[1, -1] * 6, 1, 1]
        found = rules(values, run_rules=True)
        # from the second zero on: 0, 1, -1, … 1 are fourteen values
        assert [p for p, rule in found if rule == "fourteen alternating"] == [14]

    def test_leave_out_a_calm_point_after_two_beyond(self):
        values = [*self.CALM, 2.6, 2.6, 0.0]
        places = [p for p, rule in rules(values, run_rules=True) if rule.startswith("two of")]
        assert places == [len(values) - 2]

    def test_do_not_fire_in_a_shorter_one(self):
        assert rules([0, 1, 2, 3, 4, 0], run_rules=True) == []
        assert rules([1, -1] * 6 + [1], run_rules=True) == []
