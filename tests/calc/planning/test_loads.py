"""Loads of a dryer backwards: a worked day, and every minute tried out."""

import json
import random

import pytest

from recycling.calc.planning.loads import Dryer, backwards, split
from tests.checked import check_text

WORKED = json.loads(check_text("plan.json"))["checks"][1]


def minute(clock):
    hours, minutes = clock.split(":")
    return 60 * int(hours) + int(minutes)


def worked_day(begin=WORKED["extrude_start"]):
    dryer = Dryer(*(WORKED[key] for key in ("dryer_kg", "recipe_min", "heat_up_min", "reload_min")))
    asked = (WORKED["dry_kg"], WORKED["feed_kg_h"], dryer, WORKED["open_limit_min"])
    return backwards(minute(begin), *asked, minute(WORKED["opening"]))


def test_the_worked_day():
    day = worked_day()
    assert day.on == minute(WORKED["loads"][0]["on"])
    for load, expected in zip(day.loads, WORKED["loads"], strict=True):
        clock = [minute(expected[key]) for key in ("start", "end", "needed")]
        assert [load.start, load.end, load.needed] == clock
        assert load.sealed == expected["sealed"]
    assert day.before == 1
    assert minute(WORKED["extrude_start"]) + day.late_min == minute(WORKED["later_start"])


def test_the_later_start_can_be_dried_on_the_day():
    day = worked_day(WORKED["later_start"])
    assert (day.on, day.late_min, day.before) == (minute(WORKED["opening"]), 0, 0)


def latest(loads, needed, dryer, horizon):
    """Try every minute from the last: at which may these loads start, one straight on another?"""
    for start in range(horizon, -100_000, -1):
        step = dryer.recipe_min + dryer.reload_min
        ends = [start + place * step + dryer.recipe_min for place in range(loads)]
        if all(end <= due + 1e-6 for end, due in zip(ends, needed[-loads:], strict=True)):
            return start
    raise AssertionError("no minute would do")


@pytest.mark.parametrize("seed", range(20))
def test_it_is_as_late_as_every_minute_tried_out_allows(seed):
    chance = random.Random(seed)
    for _ in range(10):
        dryer = Dryer(
            chance.choice([0.5, 1.5, 2.0]),
            chance.randrange(60, 400),
            chance.randrange(60),
            chance.randrange(40),
        )
        per_load, count = chance.randrange(30, 500), chance.randint(1, 5)
        kg = dryer.load_kg * (count - chance.choice([0, 0.5]))
        begin, opening = chance.randrange(2_000), chance.randrange(1_000)
        feed = dryer.load_kg * 60 / per_load
        day = backwards(begin, kg, feed, dryer, chance.randrange(120), opening)
        needed = [begin + place * per_load for place in range(count)]
        assert [load.needed for load in day.loads] == pytest.approx(needed)
        for place, load in enumerate(day.loads):
            assert load.start == pytest.approx(latest(count - place, needed, dryer, needed[-1]))
        gaps = [b.start - a.end for a, b in zip(day.loads, day.loads[1:], strict=False)]
        assert all(gap >= dryer.reload_min - 1e-6 for gap in gaps)
        assert day.late_min == pytest.approx(max(opening - day.on, 0))
        assert sum(load.kg for load in day.loads) == pytest.approx(kg)


@pytest.mark.parametrize(("kg", "loads"), [(3.0, 2), (3.001, 3), (0.2, 1), (4.5, 3)])
def test_loads_are_full_but_for_the_last(kg, loads):
    sizes = split(kg, 1.5)
    assert len(sizes) == loads and sum(sizes) == pytest.approx(kg)
    assert all(size == 1.5 for size in sizes[:-1]) and 0 < sizes[-1] <= 1.5 + 1e-9


@pytest.mark.parametrize("feed", [0, -1, float("nan")])
def test_a_rate_that_cannot_be_is_refused(feed):
    with pytest.raises(ValueError, match="feed_kg_h"):
        backwards(0, 1, feed, Dryer(1, 60), 0, 0)
