"""Imports of whole files: clock changes, gaps, duplicates, counters, and the same as pandas."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from recycling.tables.energy import blocks as energy_blocks
from recycling.tables.energy.layout import LayoutChoices, read_layout
from recycling.tables.energy.read import EnergyChoices, import_energy

BERLIN = ZoneInfo("Europe/Berlin")
AUTUMN = datetime(2025, 10, 25, 20, 0, tzinfo=UTC)
SPRING = datetime(2025, 3, 29, 20, 0, tzinfo=UTC)


@pytest.fixture
def imported(tmp_path):
    def run(lines, head="time;W", layout=None, **choices):
        path = tmp_path / "log.csv"
        path.write_text("\n".join([head, *lines]) + "\n")
        fields = {"max_gap_s": 600, "zone": BERLIN} | choices
        return import_energy(path, read_layout(path, layout), EnergyChoices(**fields))

    return run


def night(start, minutes=720, step=5, zone=BERLIN):
    moments = [start + timedelta(minutes=i) for i in range(0, minutes, step)]
    return [f"{m.astimezone(zone):%d.%m.%Y %H:%M:%S};{1000 + i % 7}" for i, m in enumerate(moments)]


@pytest.mark.parametrize("size", [128, 700, 1 << 22])
@pytest.mark.parametrize("start", [AUTUMN, SPRING])
def test_night_of_a_clock_change_is_twelve_hours_long(imported, monkeypatch, start, size):
    """Independent: pandas, tz_localize and numpy's trapezoid on the same rows."""
    import pandas as pd
    from scipy.integrate import trapezoid

    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", size)
    lines = night(start)
    preview, points = imported(lines)
    walls = pd.to_datetime([line.split(";")[0] for line in lines], format="%d.%m.%Y %H:%M:%S")
    moments = walls.tz_localize(BERLIN, ambiguous="infer")
    seconds = moments.as_unit("us").asi8 / 1e6
    watts = [float(line.split(";")[1]) for line in lines]
    assert preview.can_be_written
    assert preview.first_us == int(start.timestamp()) * 10**6
    assert preview.last_us - preview.first_us == 715 * 60 * 10**6
    assert preview.covered_s == 715 * 60
    assert preview.kwh == pytest.approx(trapezoid(watts, seconds) / 3.6e6, rel=1e-12)
    assert preview.value_sum == pytest.approx(sum(watts))
    assert (points.kwh[-1], points.at_us[0]) == (preview.kwh, preview.first_us)


def test_repeated_hour_that_stands_once_has_to_be_told(imported):
    lines = [line for line in night(AUTUMN) if line[11:13] != "02"]
    hour = [f"26.10.2025 02:{m:02}:00;1000" for m in range(0, 60, 5)]
    where = next(i for i, line in enumerate(lines) if line.startswith("26.10.2025 03"))
    lines[where:where] = hour
    preview, _ = imported(lines)
    (problem,) = preview.problems
    assert problem.line == where + 2
    assert "2025-10-26 02:00:00 to 2025-10-26 02:55:00 came twice" in problem.says
    assert not preview.can_be_written
    first, _ = imported(lines, repeated_hour="first")
    second, _ = imported(lines, repeated_hour="second")
    assert first.can_be_written and second.can_be_written
    assert second.gaps[0].end_us - first.gaps[0].start_us == 300 * 10**6
    assert (first.kwh, first.covered_s) == pytest.approx((second.kwh, second.covered_s), rel=1e-3)


def test_log_may_end_within_a_repeated_hour(imported):
    lines = night(AUTUMN, 310)
    preview, _ = imported(lines)
    assert preview.can_be_written
    assert preview.covered_s == 305 * 60
    assert imported(night(AUTUMN, 270))[0].problem_count == 1


def test_hour_that_does_not_exist_is_named(imported):
    preview, _ = imported([*night(SPRING, 120), "30.03.2025 02:30:00;5", "30.03.2025 03:30:00;5"])
    (problem,) = preview.problems
    assert problem.says == "2025-03-30 02:30:00 was skipped when the clock changed"


def test_gaps_are_named_and_never_filled(imported):
    lines = night(AUTUMN - timedelta(days=30))
    preview, points = imported(lines[:30] + lines[60:])
    assert preview.gap_count == 1
    (gap,) = preview.gaps
    assert gap.end_us - gap.start_us == 31 * 300 * 10**6
    assert preview.covered_s == 715 * 60 - 31 * 300
    inside = (points.at_us > gap.start_us) & (points.at_us <= gap.end_us)
    assert len(set(points.kwh[inside])) == 1
    assert len(set(points.covered_us[inside])) == 1


def test_duplicates_are_dropped_and_conflicts_named(imported):
    lines = night(AUTUMN - timedelta(days=30))
    again = [*lines[:10], lines[9], lines[9], lines[9].split(";")[0] + ";5", *lines[10:]]
    preview, _ = imported(again)
    plain, _ = imported(lines)
    assert (preview.duplicates, preview.conflict_count, preview.conflicts) == (2, 1, (14,))
    assert (preview.rows, preview.kwh) == (plain.rows, plain.kwh)
    assert preview.can_be_written


def test_rows_out_of_order_are_named_or_sorted(imported):
    lines = night(AUTUMN - timedelta(days=30))
    mixed = [*lines[:20], *lines[25:30], *lines[20:25], *lines[30:]]
    preview, _ = imported(mixed)
    assert preview.problem_count == 5
    assert preview.problems[0].line == 27
    assert "earlier than one before it" in preview.problems[0].says
    put_right, _ = imported(mixed, sort=True)
    assert put_right.can_be_written
    assert put_right.kwh == imported(lines)[0].kwh


@pytest.mark.parametrize("size", [256, 1 << 22])
def test_newest_first_gives_the_same(imported, monkeypatch, size):
    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", size)
    lines = night(AUTUMN)
    down, _ = imported(lines[::-1])
    up, _ = imported(lines)
    assert down.can_be_written
    assert (down.first_us, down.last_us) == (up.first_us, up.last_us)
    assert down.kwh == pytest.approx(up.kwh, rel=1e-12)


def test_counter_that_falls_is_named_until_somebody_says_why(imported):
    values = [90.0, 95.0, 99.0, 2.0, 5.0]
    lines = [f"2025-01-0{i + 1} 10:00;{v}" for i, v in enumerate(values)]
    refused, none = imported(lines, "time;kWh")
    assert (refused.falls, refused.can_be_written, len(none)) == ((5,), False, 0)
    reset, points = imported(lines, "time;kWh", falls_are_resets=True)
    assert (reset.kwh, reset.covered_s, reset.gap_count) == (14.0, 4 * 86400, 0)
    assert points.kwh.tolist() == [0, 5, 9, 11, 14]
    rolled, _ = imported(lines, "time;kWh", rollover_kwh=100.0)
    assert (rolled.kwh, rolled.falls) == (15.0, ())


def test_energy_of_intervals(imported):
    lines = [f"2025-01-01 10:{m:02};0,25" for m in (0, 15, 30, 45)]
    preview, points = imported(lines, "time;Wh", LayoutChoices(kind="interval"), max_gap_s=900)
    assert preview.kwh == pytest.approx(0.001)
    assert preview.covered_s == 3600
    assert len(points) == 5


def test_times_with_offset_need_no_zone(imported):
    lines = [f"2025-10-26T0{h}:30:00+0{o}:00;500" for h, o in ((1, 2), (2, 2), (2, 1), (3, 1))]
    preview, _ = imported(lines, zone=None, max_gap_s=3600)
    assert (preview.kwh, preview.covered_s) == (1.5, 3 * 3600)


def test_choices_that_are_needed_are_asked_for(imported):
    lines = night(AUTUMN)
    with pytest.raises(ValueError, match="choose the zone of the clock"):
        imported(lines, zone=None)
    with pytest.raises(ValueError, match="max_gap_s"):
        imported(lines, max_gap_s=0)
    with pytest.raises(ValueError, match="point_s"):
        imported(lines, point_s=0)
    with pytest.raises(ValueError, match="trapezoid or step"):
        imported(lines, rule="spline")


def test_file_of_which_nothing_is_left_cannot_be_written(imported):
    preview, points = imported(["2025-01-01 10:00;5"], max_gap_s=60)
    assert (preview.rows, len(points), preview.can_be_written) == (1, 1, False)
    broken, none = imported(["2025-01-01 10:00;-5"])
    assert (broken.rows, broken.first_us, len(none), broken.problem_count) == (0, None, 0, 1)


def test_same_file_has_the_same_digest(imported):
    lines = night(AUTUMN)
    assert imported(lines)[0].digest == imported(lines, max_gap_s=60)[0].digest
    assert imported(lines)[0].digest != imported(lines[1:])[0].digest


def test_random_file_equals_pandas(imported, monkeypatch):
    """Independent: pandas reading the same text, numpy integrating it with the gaps left out."""
    import io

    import pandas as pd

    monkeypatch.setattr(energy_blocks, "BLOCK_BYTES", 4000)
    rng = np.random.default_rng(8)
    at = pd.Timestamp("2025-06-01", tz="UTC") + pd.to_timedelta(
        rng.integers(1, 1500, 3000).cumsum(), "s"
    )
    watts = rng.uniform(0, 3000, 3000).round(2)
    lines = [f"{a:%Y-%m-%dT%H:%M:%SZ},{w}" for a, w in zip(at, watts, strict=True)]
    preview, points = imported(lines, "time,W", zone=None)
    frame = pd.read_csv(io.StringIO("\n".join(lines)), header=None, parse_dates=[0])
    seconds = frame[0].astype("datetime64[us, UTC]").astype("int64").to_numpy() / 1e6
    step = np.diff(seconds)
    mean = (frame[1].to_numpy()[1:] + frame[1].to_numpy()[:-1]) / 2
    assert preview.rows == len(frame)
    assert preview.value_sum == pytest.approx(frame[1].sum())
    assert preview.kwh == pytest.approx((mean * step)[step <= 600].sum() / 3.6e6, rel=1e-10)
    assert preview.gap_count == int((step > 600).sum())
    assert preview.covered_s == step[step <= 600].sum()
    assert (np.diff(points.kwh) >= -1e-12).all()
