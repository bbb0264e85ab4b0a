import json
import math
from itertools import permutations
from random import Random

import pytest

from recycling.calc.process.changeover import Pace, plan_changeover
from recycling.calc.process.temperature_ranges import (
    CAUTION,
    Window,
    kept_inside,
    meeting_c,
    shared_room,
    window_warnings,
)
from recycling.calc.process.washout import Barrel
from shared.said import again, kept
from tests.checks import checked

PET, PLA = Window("PET", 265, 290, 250), Window("PLA", 180, 230, 165)
BRIDGE, SHORT = Window("bridging compound", 170, 320), Window("hot compound", 245, 320)
BARREL, PACE = Barrel(60.0), Pace()
WASHED_G = 60 * math.log(100)  # Levenspiel 1999: one tank, m = H·ln(1/ε), ε = 1 %
HOT_G = 60 * math.log(20)  # the same down to 5 %


def polymers() -> list[Window]:
    """The ten polymers of the guide; its values and their state are in the file."""
    rows = checked("polymers")["polymers"]
    return [
        Window(
            name,
            one["melt_low_c"][0],
            one["melt_high_c"][0],
            one.get("melting_c", [None])[0],
        )
        for name, one in rows.items()
    ]


def plan(before, after, compounds=(SHORT, BRIDGE), start_c=None, target_c=None, **more):
    start_c = (before.low_c + before.high_c) / 2 if start_c is None else start_c
    target_c = (after.low_c + after.high_c) / 2 if target_c is None else target_c
    settings = {"residue": 0.01, "barrel": BARREL, "pace": PACE} | more
    return plan_changeover(before, after, compounds, start_c=start_c, target_c=target_c, **settings)


def room_k(a: Window, b: Window) -> float:
    """Width of the temperatures at which both can be worked; written anew, by intervals."""
    lows = [one.low_c for one in (a, b)]
    lows += [one.melts_c + 10 for one in (a, b) if one.melts_c is not None]
    return min(a.high_c, b.high_c) - max(lows)


def ways(before, after, compounds, between=2) -> bool:
    """Whether any chain over so many compounds has 10 K of room at each meeting."""
    chains = [
        (before, *bridges, after)
        for count in range(between + 1)
        for bridges in permutations(compounds, count)
    ]
    return any(
        all(room_k(a, b) >= 10 for a, b in zip(one, one[1:], strict=False)) for one in chains
    )


def faults(way, before, after, compounds, start_c, target_c) -> list[str]:
    """Walk through a plan as the barrel sees it, and say what is wrong with it."""
    named = {one.name: one for one in (before, after, *compounds)}
    held, now_c, found = {before.name}, start_c, []
    for step in way.steps:
        fed = named[step.feed]
        if step.temperatures_c[0] != now_c:
            found.append("jumps")
        now_c = step.temperatures_c[-1]
        if len(step.temperatures_c) == 1:
            held.add(fed.name)
            for one in (named[name] for name in held):
                inside = min(now_c - one.low_c, one.high_c - now_c)
                above = now_c - one.melts_c if one.melts_c is not None else 99
                if inside < 5 - 1e-9 or above < 15 - 1e-9:
                    found.append(f"{one.name} meets at {now_c}")
            held = {fed.name}
        else:
            low_c, high_c = sorted(step.temperatures_c)
            if held != {fed.name}:
                found.append("moves with two materials")
            if high_c > fed.high_c or low_c < fed.low_c:
                found.append("moves out of a range")
            if not fed.low_c + 5 <= now_c <= fed.high_c - 5:
                found.append("ends at an edge")
        if step.minutes <= 0 or step.mass_g <= 0 or step.margin_k < 5 - 1e-9:
            found.append("states no minutes, grams or margin")
    if way.steps and abs(now_c - target_c) > 1e-9:
        found.append("does not reach the target")
    return found


def invented(seed: int, count: int):
    """Tables nobody tuned to: two polymers and up to three compounds, from narrow to wide."""
    random = Random(seed)
    for _ in range(count):
        ends = []
        for name in ("one", "other"):
            low_c = random.uniform(120, 300)
            high_c = low_c + random.uniform(12, 90)
            melts_c = random.choice([None, low_c - random.uniform(-5, 40)])
            ends.append(Window(name, low_c, high_c, melts_c))
        compounds = []
        for number in range(random.randrange(4)):
            low_c = random.uniform(120, 280)
            compounds.append(Window(f"compound {number}", low_c, low_c + random.uniform(20, 180)))
        yield (
            *ends,
            compounds,
            Barrel(random.uniform(10, 400)),
            random.choice((0.05, 0.01, 0.001)),
        )


def cases():
    for before, after in permutations(polymers(), 2):
        yield before, after, [BRIDGE], BARREL, 0.01
    yield from invented(490_2026, 400)


class TestPlansOfManyTables:
    def test_have_no_fault_and_are_missing_only_where_there_is_no_room(self):
        planned = []
        for before, after, compounds, barrel, residue in cases():
            start_c = (before.least_c + before.high_c) / 2
            target_c = kept_inside(after, (after.low_c + after.high_c) / 2)
            way = plan(before, after, compounds, start_c, target_c, barrel=barrel, residue=residue)
            assert faults(way, before, after, compounds, start_c, target_c) == []
            assert way.possible == ways(before, after, compounds), (before, after, compounds)
            planned.append(way.possible)
        assert len(planned) == 490
        assert sum(planned[:90]) == 90
        assert 150 < sum(planned[90:]) < 400, "the invented tables must ask both"


class TestRoom:
    def test_is_the_same_both_ways(self):
        assert shared_room(PET, SHORT) == shared_room(SHORT, PET) == (265, 290)

    def test_starts_ten_kelvin_above_the_higher_melting_point(self):
        assert shared_room(Window("A", 200, 300, 240), BRIDGE) == (250, 300)

    @pytest.mark.parametrize("low_c, room", [(230, (230, 240)), (230.5, None), (240, None)])
    def test_needs_ten_kelvin(self, low_c, room):
        assert shared_room(Window("A", 180, 240), Window("B", low_c, 300)) == room

    def test_meets_ten_kelvin_inside_near_where_it_is_wanted(self):
        assert [meeting_c(PET, BRIDGE, at) for at in (200, 278, 400)] == [275, 278, 280]

    def test_meets_in_the_middle_of_a_narrow_one(self):
        assert meeting_c(PLA, Window("B", 216, 300), 400) == 223

    @pytest.mark.parametrize("low, high", [(240, 180), (200, 200), (float("nan"), 200)])
    def test_refuses_ends_the_wrong_way_round(self, low, high):
        with pytest.raises(ValueError, match="ends at or below|low_c"):
            Window("X", low, high)


class TestPlan:
    def test_goes_straight_over_where_there_is_room(self):
        glycol = Window("PETG", 190, 260)
        way = plan(PLA, glycol, start_c=205, target_c=240)
        assert (way.bridges, way.mass_g(*way.bridges)) == ((), 0)
        # 205 to 220 °C at 3 K/min and 12 min of wait; the rest likewise
        moves = [(s.feed, s.temperatures_c, s.minutes) for s in way.steps]
        assert moves == [
            ("PLA", (205, 220), 17),
            ("PETG", (220,), pytest.approx(WASHED_G / 8)),
            ("PETG", (220, 240), pytest.approx(20 / 3 + 12)),
        ]

    def test_moves_while_the_bridge_alone_is_in_the_barrel(self):
        # H·ln 20 = 179.7 g hot; (278 − 205)/1.5 + 12 = 60.7 min at 2 g/min; H·ln 100 = 276.3 g
        way = plan(PET, PLA, start_c=278, target_c=205)
        assert way.bridges == ("bridging compound",)
        minutes = 73 / 1.5 + 12
        assert [(s.feed, s.temperatures_c) for s in way.steps] == [
            ("bridging compound", (278,)),
            ("bridging compound", (278, 205)),
            ("PLA", (205,)),
        ]
        grams = [s.mass_g for s in way.steps]
        assert grams == pytest.approx([HOT_G, 2 * minutes, WASHED_G])
        assert way.minutes == pytest.approx(minutes + (HOT_G + WASHED_G) / 8)
        assert way.margin_k == pytest.approx(12)
        assert way.warnings == (CAUTION,)

    def test_washes_whole_where_the_ramp_is_short(self):
        way = plan(PLA, PET, start_c=205, target_c=278)
        assert way.mass_g("bridging compound") == pytest.approx(WASHED_G)
        assert round(way.minutes) == 96

    def test_takes_the_compound_that_needs_least_time(self):
        near = Window("near", 205, 300)
        far = Window("far", 150, 240), Window("upper", 222, 320)
        assert plan(PET, PLA, [*far, BRIDGE, near]).bridges in {("near",), ("bridging compound",)}
        assert plan(PET, PLA, far).bridges == ("upper", "far")

    def test_never_uses_what_is_in_the_barrel_as_a_bridge(self):
        assert plan(BRIDGE, PLA, [BRIDGE]).bridges == ()

    def test_says_what_would_bridge(self):
        way = plan(PET, PLA, [SHORT])
        assert (way.possible, way.steps, way.minutes, way.margin_k) == (False, (), 0, 0)
        assert "worked from 220 to 275 °C" in way.warnings[0]
        assert plan(PET, PLA, [Window("told", 220, 275)]).possible

    def test_says_which_range_is_too_narrow_for_any_plan(self):
        way = plan(Window("tight", 200, 220, 205), PLA)
        assert "tight can be worked from 215 to 220 °C" in way.warnings[0]

    def test_warns_of_a_start_outside_and_moves_a_target_off_the_edge(self):
        way = plan(PET, PLA, start_c=310, target_c=230)
        assert "PET at 310 °C is above" in way.warnings[0]
        assert "ends at 225 °C" in way.warnings[1]
        assert way.steps[-1].temperatures_c[-1] == 225

    def test_can_be_said_again_after_it_was_kept(self):
        step = plan(PET, PLA).steps[0]
        data = json.loads(json.dumps(kept(step.sentence)))
        assert again(data) == step.sentence
        assert again(data).pattern.startswith("Feed {mass_g")

    @pytest.mark.parametrize(
        "change, message",
        [
            ({"residue": 0}, "residue"),
            ({"start_c": float("nan")}, "start_c"),
            ({"target_c": float("inf")}, "temperature_c"),
            ({"after": PET}, "PET follows itself"),
        ],
    )
    def test_refuses_bad_input(self, change, message):
        good = {"before": PET, "after": PLA, "start_c": 278, "target_c": 205}
        with pytest.raises(ValueError, match=message):
            plan(**(good | change))

    @pytest.mark.parametrize(
        "wrong",
        [{"up_k_per_min": 0}, {"wait_min": -1}, {"freeze": 1}, {"creep_g_per_min": float("nan")}],
    )
    def test_refuses_a_pace_that_is_none(self, wrong):
        with pytest.raises(ValueError):
            Pace(**wrong)


class TestWindowWarnings:
    @pytest.mark.parametrize("temperature", [180, 210, 230])
    def test_are_silent_inside(self, temperature):
        assert window_warnings(PLA, temperature) == ()

    def test_above_bring_the_caution(self):
        warned = window_warnings(PLA, 270)
        assert "ends at 230 °C" in warned[0]
        assert warned[1] == CAUTION

    def test_below_keep_the_screw_still(self):
        assert "Do not turn the screw" in window_warnings(PET, 240)[0]

    def test_refuse_no_number(self):
        with pytest.raises(ValueError, match="temperature_c"):
            window_warnings(PET, None)
