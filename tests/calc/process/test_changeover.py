from itertools import pairwise

import pytest

from recycling.calc.process.changeover import (
    CAUTION,
    Window,
    bridging,
    overlap,
    plan_changeover,
    temperature_steps,
    window_warnings,
)
from recycling.calc.process.washout import Barrel

# Common practice: PLA at about 180 to 240 °C, PET at about 250 to 300 °C, no overlap, so a
# compound that bridges both is needed; 5 °C steps.
PLA, PET = Window("PLA", 180, 240), Window("PET", 250, 300)
BRIDGE, SHORT = Window("bridging compound", 170, 320), Window("hot compound", 245, 320)
BARREL = Barrel(41.5)


def plan(before, after, start_c, target_c, compounds=(SHORT, BRIDGE), **more):
    settings = {"residue": 0.01, "step_c": 5.0} | more
    return plan_changeover(
        before, after, compounds, BARREL, start_c=start_c, target_c=target_c, **settings
    )


class TestWindows:
    def test_of_two_polymers_may_not_overlap(self):
        assert overlap(PLA, PET) is None
        assert overlap(PLA, Window("touching", 240, 250)) is None

    def test_overlap_is_the_same_both_ways(self):
        ours, theirs = overlap(PET, SHORT), overlap(SHORT, PET)
        assert (ours.low_c, ours.high_c) == (theirs.low_c, theirs.high_c) == (250, 300)

    def test_bridge_takes_the_compound_with_most_room(self):
        narrow = Window("narrow", 230, 260)
        assert bridging(PET, PLA, [SHORT, narrow, BRIDGE]) == [BRIDGE, narrow]

    @pytest.mark.parametrize("low, high", [(240, 180), (200, 200), (float("nan"), 200)])
    def test_refuse_ends_the_wrong_way_round(self, low, high):
        with pytest.raises(ValueError, match="ends at or below|low_c"):
            Window("X", low, high)


class TestTemperatureSteps:
    @pytest.mark.parametrize("start, end", [(270, 210), (210, 270), (230, 218), (200, 200.5)])
    def test_lead_from_one_end_to_the_other(self, start, end):
        steps = temperature_steps(start, end, 5)
        assert (steps[0], steps[-1]) == (start, end)
        assert all(0 < abs(b - a) <= 5 for a, b in pairwise(steps))

    def test_are_none_where_nothing_moves(self):
        assert temperature_steps(210, 210, 5) == (210,)

    @pytest.mark.parametrize("start, end, step", [(1, 2, 0), (float("nan"), 2, 1), (1, None, 1)])
    def test_refuse_bad_input(self, start, end, step):
        with pytest.raises(ValueError, match="step_c|start_c|end_c"):
            temperature_steps(start, end, step)


class TestPlan:
    def test_goes_straight_over_where_windows_overlap(self):
        glycol = Window("PETG", 220, 260)
        way = plan(PLA, glycol, 210, 245)
        assert (way.possible, way.purge, way.purge_g) == (True, "", 0.0)
        moves = [(s.feed, s.temperatures_c[0], s.temperatures_c[-1]) for s in way.steps]
        assert moves == [("PLA", 210, 220), ("PETG", 220, 220), ("PETG", 220, 245)]
        # Levenspiel 1999: one tank, 1 % of 41.5 g (figure 18)
        assert way.flush_g == pytest.approx(191.115, abs=5e-4)

    def test_bridges_windows_that_do_not_overlap(self):
        way = plan(PET, PLA, 270, 210)
        assert way.purge == "bridging compound"
        assert way.purge_g == way.flush_g == pytest.approx(191.115, abs=5e-4)
        moves = [(s.feed, s.temperatures_c[0], s.temperatures_c[-1]) for s in way.steps]
        assert moves == [
            ("bridging compound", 270, 270),
            ("bridging compound", 270, 240),
            ("PLA", 240, 240),
            ("PLA", 240, 210),
        ]
        assert way.warnings == (CAUTION,)

    @pytest.mark.parametrize("before, after", [(PET, PLA), (PLA, PET)])
    @pytest.mark.parametrize("compounds", [[BRIDGE], [Window("narrow", 230, 260)]])
    def test_never_holds_a_material_outside_its_window(self, before, after, compounds):
        windows = {w.name: w for w in (before, after, *compounds)}
        middle = {PLA: 210, PET: 275}
        way = plan(before, after, middle[before], middle[after], compounds)
        held = before
        for step in way.steps:
            for temperature in step.temperatures_c:
                assert held.low_c <= temperature <= held.high_c
                assert windows[step.feed].low_c <= temperature <= windows[step.feed].high_c
            held = windows[step.feed]
        assert held == after

    def test_has_no_moves_where_the_temperature_stays(self):
        way = plan(PLA, Window("PETG", 200, 260), 210, 210)
        assert [s.feed for s in way.steps] == ["PETG"]

    def test_says_when_nothing_bridges(self):
        way = plan(PET, PLA, 270, 210, [SHORT])
        assert (way.possible, way.steps) == (False, ())
        assert "No purge compound at hand bridges PET and PLA." in way.warnings

    def test_warns_of_a_start_and_a_target_outside_the_windows(self):
        way = plan(PET, PLA, 310, 170)
        assert "PET at 310 °C is above" in way.warnings[0]
        assert "PLA at 170 °C is below" in way.warnings[1]

    @pytest.mark.parametrize(
        "change, message",
        [
            ({"residue": 0}, "residue"),
            ({"step_c": 0}, "step_c"),
            ({"start_c": float("nan")}, "start_c"),
            ({"target_c": float("inf")}, "end_c"),
            ({"after": PET}, "PET follows itself"),
        ],
    )
    def test_refuses_bad_input(self, change, message):
        good = {"before": PET, "after": PLA, "start_c": 270, "target_c": 210}
        with pytest.raises(ValueError, match=message):
            plan(**(good | change))


class TestWindowWarnings:
    @pytest.mark.parametrize("temperature", [180, 210, 240])
    def test_are_silent_inside(self, temperature):
        assert window_warnings(PLA, temperature) == ()

    def test_above_bring_the_caution(self):
        warned = window_warnings(PLA, 270)
        assert "ends at 240 °C" in warned[0]
        assert warned[1] == CAUTION

    def test_below_keep_the_screw_still(self):
        assert "do not turn the screw" in window_warnings(PET, 240)[0]

    def test_refuse_no_number(self):
        with pytest.raises(ValueError, match="temperature_c"):
            window_warnings(PET, None)
