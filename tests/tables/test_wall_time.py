"""Wall clocks against zoneinfo, over days of 23 and 25 hours."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from recycling.tables.wall_time import WallClock, clock_changes

S = 1_000_000
HOUR = 3600 * S
ZERO = datetime(1970, 1, 1)
ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]


def wall_us(*parts) -> int:
    return (datetime(*parts) - ZERO) // timedelta(microseconds=1)


@pytest.mark.parametrize("name", ZONES)
def test_wall_times_of_a_year_equal_zoneinfo(name):
    """Independent: zoneinfo of the standard library, every 20 minutes of a year in order."""
    zone = ZoneInfo(name)
    start = datetime(2025, 1, 1, tzinfo=UTC)
    moments = [start + timedelta(minutes=20 * i) for i in range(365 * 72)]
    wall = np.array(
        [
            (moment.astimezone(zone).replace(tzinfo=None) - ZERO) // timedelta(microseconds=1)
            for moment in moments
        ]
    )
    found = WallClock(zone).to_utc(wall)
    assert not found.missing.any()
    assert not found.undecided.any()
    expected = [int(moment.timestamp()) * S for moment in moments]
    assert found.at_us.tolist() == expected


def test_hour_that_the_clock_skipped_is_marked():
    wall = np.array(
        [wall_us(2025, 3, 30, 1, 59, 59), wall_us(2025, 3, 30, 2, 0), wall_us(2025, 3, 30, 3, 0)]
    )
    found = WallClock(ZoneInfo("Europe/Berlin")).to_utc(wall)
    assert found.missing.tolist() == [False, True, False]
    assert found.at_us[2] - found.at_us[0] == S


def test_repeated_hour_seen_once_is_undecided_unless_told():
    wall = wall_us(2025, 10, 26, 1, 50) + np.arange(8) * 10 * 60 * S
    zone = ZoneInfo("Europe/Berlin")
    found = WallClock(zone).to_utc(wall)
    assert found.undecided.tolist() == [False] + [True] * 6 + [False]
    first = WallClock(zone, "first").to_utc(wall)
    second = WallClock(zone, "second").to_utc(wall)
    assert not first.undecided.any()
    assert ((second.at_us - first.at_us) / HOUR).tolist() == [0, 1, 1, 1, 1, 1, 1, 0]


def test_two_steps_back_are_undecided():
    minutes = np.array([5, 10, 6, 12, 8])
    wall = wall_us(2025, 10, 26, 2, 0) + minutes * 60 * S
    assert WallClock(ZoneInfo("Europe/Berlin")).to_utc(wall).undecided.all()


def test_rows_in_a_repeated_hour_wait_for_the_next_block():
    clock = WallClock(ZoneInfo("Europe/Berlin"))
    before, inside = wall_us(2025, 10, 26, 1, 59), wall_us(2025, 10, 26, 2, 30)
    assert clock.held_from(np.array([before, inside, inside + S])) == 1
    assert clock.held_from(np.array([inside, inside])) == 0
    assert clock.held_from(np.array([inside, before])) == 2
    assert clock.held_from(np.array([], dtype=np.int64)) == 0
    assert WallClock(ZoneInfo("Europe/Berlin"), "first").held_from(np.array([inside])) == 1
    assert len(clock.to_utc(np.array([], dtype=np.int64)).at_us) == 0


def test_changes_stand_to_the_second():
    """Independent: IANA time zone database, Lord Howe Island moves by half an hour."""
    start = wall_us(2025, 1, 1)
    changes = clock_changes(ZoneInfo("Australia/Lord_Howe"), start, start + 365 * 24 * HOUR)
    assert [change.at_us for change in changes] == [
        wall_us(2025, 4, 5, 15),
        wall_us(2025, 10, 4, 15, 30),
    ]
    assert [change.wall[1] - change.wall[0] for change in changes] == [HOUR // 2] * 2
