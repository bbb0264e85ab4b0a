"""Columns of times against the standard library and pandas."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from recycling.tables.time_columns import SHAPES, fits, parse_times


def column(texts):
    return np.array([text.encode() for text in texts])


@pytest.mark.parametrize(
    ("shape", "form"),
    [
        ("year first", "%Y-%m-%dT%H:%M:%S"),
        ("year first", "%Y/%m/%d %H:%M"),
        ("year first", "%Y-%m-%d %H:%M:%S.%f"),
        ("year first", "%Y-%m-%dT%H:%M:%S,%f"),
        ("day first", "%d.%m.%Y %H:%M:%S"),
        ("day first", "%d/%m/%Y, %H:%M"),
        ("month first", "%m/%d/%Y %I:%M:%S %p"),
    ],
)
def test_times_equal_those_of_the_standard_library(shape, form):
    """Independent: datetime.strptime and POSIX seconds."""
    rng = np.random.default_rng(1)
    moments = [
        datetime(1999, 12, 1) + timedelta(microseconds=int(us))
        for us in rng.integers(0, 40 * 365 * 86_400 * 10**6, 3000)
    ]
    texts = [moment.strftime(form) for moment in moments]
    times = parse_times(column(texts), shape)
    expected = [
        (datetime.strptime(text, form) - datetime(1970, 1, 1)) // timedelta(microseconds=1)
        for text in texts
    ]
    assert times.readable.all()
    assert not times.is_utc.any()
    assert times.us.tolist() == expected


def test_offsets_and_fractions_may_differ_from_row_to_row():
    """Independent: pandas.to_datetime with utc=True."""
    import pandas as pd

    texts = [
        "2025-10-26T02:30:00+02:00",
        "2025-10-26T02:30:00+01:00",
        "2025-10-26T00:30:00Z",
        "2025-10-26 00:30:00.5 -0330",
        "2025-10-26T00:30:00.123456+05:45",
    ]
    times = parse_times(column(texts), "year first")
    expected = [pd.to_datetime(text, utc=True).value // 1000 for text in texts]
    assert times.is_utc.all()
    assert times.us.tolist() == expected


def test_numbers_without_leading_zero_are_read():
    times = parse_times(
        column(["1.2.2025 7:05", "11.12.2025 17:05:09", "1.12.2025 7:05"]), "day first"
    )
    stamps = [
        datetime(2025, 2, 1, 7, 5),
        datetime(2025, 12, 11, 17, 5, 9),
        datetime(2025, 12, 1, 7, 5),
    ]
    assert [datetime(1970, 1, 1) + timedelta(microseconds=int(us)) for us in times.us] == stamps


def test_seconds_and_milliseconds_since_1970_are_utc():
    seconds = parse_times(column(["1740787200", "1740787200.25"]), "seconds since 1970")
    assert seconds.us.tolist() == [1740787200_000000, 1740787200_250000]
    assert seconds.is_utc.all()
    milli = parse_times(column(["1740787200123"]), "milliseconds since 1970")
    assert milli.us.tolist() == [1740787200_123000]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "2025-13-01 00:00",
        "2025-00-01 00:00",
        "2025-02-29 00:00",
        "2025-04-31 00:00",
        "2025-01-00 00:00",
        "2025-01-01 24:00",
        "2025-01-01 00:60",
        "2025-01-01 00:00:60",
        "2025-01-01 13:00 PM",
        "2025-01-01 0:00 AM",
        "2025-01-01 00:00:00 tail",
        "2025-01/01 00:00",
        "２０２５-01-01 00:00",
    ],
)
def test_what_is_no_time_is_marked_and_its_neighbours_are_read(text):
    good = "2024-02-29 00:00"
    times = parse_times(column([good, text, good]), "year first")
    assert times.readable.tolist() == [True, False, True]
    assert times.us[0] == times.us[2] == 1_709_164_800_000_000


def test_noon_and_midnight_in_twelve_hours():
    times = parse_times(column(["01/02/2025 12:00 AM", "01/02/2025 12:00 PM"]), "month first")
    assert np.diff(times.us).tolist() == [12 * 3600 * 10**6]


def test_shapes_are_told_apart():
    assert [shape for shape in SHAPES if fits(shape, "13/02/2025 00:00")] == ["day first"]
    assert [shape for shape in SHAPES if fits(shape, "02/13/2025 00:00")] == ["month first"]
    assert [shape for shape in SHAPES if fits(shape, "02/03/2025 00:00")] == [
        "day first",
        "month first",
    ]


def test_a_column_of_rubbish_ends():
    times = parse_times(column([f"x{i}" for i in range(10_000)]), "year first")
    assert not times.readable.any()
