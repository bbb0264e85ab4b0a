import pytest

from recycling.calc.balance.closure import closure, unaccounted, worst_first
from recycling.calc.balance.usual_loss import Usual, band
from shared.measured import Measured

USUAL = Usual(20.0, 0.0, (0.0, 0.0, 0.0), 0.4, runs=40, of_stage=40)
"""20 g with a scatter of 8 g is lost, whatever goes in."""


def judged(r, u=1.0):
    return closure(Measured(r, u), band(USUAL, 0.0, u))


class TestUnaccounted:
    def test_matches_the_loss_by_difference(self):
        # JCGM 100:2008, 5.1.2, by hand in kg, √(0.05² + 0.05² + 0.02²): 0.60 ± 0.147 (k = 2)
        parts = [[Measured(12.50, 0.05)], [Measured(10.80, 0.05)], [Measured(1.10, 0.02)]]
        r = unaccounted(*parts)
        assert round(r.value, 2) == 0.60
        assert round(2 * r.u, 3) == 0.147

    def test_of_an_empty_run_is_zero(self):
        assert unaccounted([], []).value == 0


class TestClosure:
    @pytest.mark.parametrize(
        "r, state, direction",
        [
            (0.0, "closed within weighing", "even"),
            (2.0, "closed within weighing", "loss"),
            (-2.0, "closed within weighing", "gain"),
            (2.1, "usual", "loss"),
            (41.0, "usual", "loss"),
            (50.0, "to look at", "loss"),
            (-3.0, "to look at", "gain"),
            (80.0, "open", "loss"),
            (-5.0, "open", "gain"),
        ],
    )
    def test_is_judged_by_its_weighings_and_by_what_is_usual(self, r, state, direction):
        found = judged(r)
        assert (found.state, found.direction) == (state, direction)
        assert found.flagged == (state in ("to look at", "open"))

    def test_without_uncertainty_takes_only_zero_as_within_weighing(self):
        assert judged(0.0, 0.0).state == "closed within weighing"
        assert judged(1.0, 0.0).state == "usual"


class TestWorstFirst:
    def test_ranks_by_state_then_by_how_unusual_then_name(self):
        runs = {"fine": 1.0, "high": 55.0, "gain": -9.0, "huge": 300.0, "usual": 20.0, "also": 1.0}
        ranked = worst_first({name: judged(r) for name, r in runs.items()})
        assert ranked == ["huge", "gain", "high", "usual", "also", "fine"]
