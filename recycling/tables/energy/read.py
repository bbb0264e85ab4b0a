"""Meter readings and power samples from a CSV file: looked through first, then taken as points.

One pass gives both the preview, which says everything that a person must know before anything is
written, and the points: accumulated kWh and covered time at moments, which is what is stored.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from recycling.calc.energy.intervals import US_PER_S
from recycling.calc.energy.logs import Rule
from recycling.calc.guards import positive
from recycling.tables.energy.blocks import MOST_NAMED, Finding, Findings, Rows, read_rows
from recycling.tables.energy.layout import COUNTER, POWER, EnergyLayout
from recycling.tables.energy.points import (
    EnergyPoints,
    PowerPoints,
    RowPoints,
    counter_points,
    interval_points,
)
from recycling.tables.wall_time import RepeatedHour, WallClock
from shared.said import say


@dataclass(frozen=True)
class EnergyChoices:
    """What a person says about a log.

    zone: whose wall clock it was written by; None where times say their offset. max_gap_s: longest
    time between rows that counts as covered. repeated_hour: how an hour that came twice is told.
    rule: how power runs between samples. point_s: spacing of stored points of a power log.
    sort: whether rows out of order are put in order (in memory) instead of refused. rollover_kwh:
    where a counter's dial starts again. falls_are_resets: whether a person has confirmed that the
    counter was reset or exchanged wherever it fell.
    """

    max_gap_s: float
    zone: ZoneInfo | None = None
    repeated_hour: RepeatedHour = "by order"
    rule: Rule = "trapezoid"
    point_s: int = 60
    sort: bool = False
    rollover_kwh: float | None = None
    falls_are_resets: bool = False


@dataclass(frozen=True)
class Gap:
    """Time that the log does not cover. start_us, end_us: µs UTC."""

    start_us: int
    end_us: int


@dataclass(frozen=True)
class EnergyPreview:
    """What an import of a file would do, and what stands against it.

    digest: SHA-256 of the file. rows: taken. first_us, last_us: µs UTC. value_sum: of all rows, in
    W or kWh. kwh, covered_s: energy and the time it covers. gaps, gap_count: longest possible
    pieces. duplicates: rows that repeat time and value, dropped. conflicts: rows that repeat a time
    with another value, the first kept. missing: rows without a value, passed over. falls: lines at
    which a counter fell. problems, problem_count: what must be mended first.
    """

    digest: str
    rows: int
    first_us: int | None
    last_us: int | None
    value_sum: float
    kwh: float
    covered_s: float
    gaps: tuple[Gap, ...]
    gap_count: int
    duplicates: int
    conflicts: tuple[int, ...]
    conflict_count: int
    missing: int
    falls: tuple[int, ...]
    problems: tuple[Finding, ...]
    problem_count: int

    @property
    def can_be_written(self) -> bool:
        """Whether nothing stands against the import."""
        return not self.problem_count and not self.falls and self.rows > 1


@dataclass
class _Tally:
    rows: int = 0
    first_us: int | None = None
    last: Rows | None = None
    value_sum: float = 0.0
    gaps: list[Gap] = field(default_factory=list)
    gap_count: int = 0
    duplicates: int = 0
    conflicts: list[int] = field(default_factory=list)
    conflict_count: int = 0
    falls: list[int] = field(default_factory=list)


def import_energy(
    path: Path,
    layout: EnergyLayout,
    choices: EnergyChoices,
    told: Callable[[int], None] | None = None,
) -> tuple[EnergyPreview, EnergyPoints]:
    """Read a file once: its preview, and its points; `told` hears how many bytes were read.

    Points of a power log stand at whole multiples of `point_s` and at both ends of the log; those
    of counters and intervals at every row. A caller writes nothing unless `can_be_written`, and
    compares `digest` with that of the preview a person has seen.

    Raises ValueError if times are wall times and no zone is given, if the gap limit or the spacing
    is not above zero, or as `read_rows`.
    """
    if not layout.has_offset and choices.zone is None:
        raise ValueError("the times have no UTC offset: choose the zone of the clock they are from")
    positive("max_gap_s", choices.max_gap_s)
    positive("point_s", choices.point_s)
    findings, tally = Findings(told=told), _Tally()
    points = _points_of(layout, choices)
    blocks = _in_utc(path, layout, choices, findings)
    for rows in _cleaned(blocks, layout, choices, findings, tally):
        points.add(rows)
    found = points.finished()
    return _preview(findings, tally, found), found


def _points_of(layout: EnergyLayout, choices: EnergyChoices) -> PowerPoints | RowPoints:
    if layout.kind == POWER:
        return PowerPoints(choices.max_gap_s, choices.rule, choices.point_s)
    if layout.kind == COUNTER:
        return RowPoints(
            lambda rows: counter_points(rows, choices.rollover_kwh, choices.falls_are_resets)
        )
    return RowPoints(lambda rows: interval_points(rows, layout.interval_s, choices.max_gap_s))


def _in_utc(path, layout, choices, findings) -> Iterator[Rows]:
    blocks: Iterable[Rows] = read_rows(path, layout, findings)
    if layout.newest_first:
        every = list(blocks)
        blocks = [Rows.joined(every)[::-1]] if every else []
    if layout.has_offset:
        yield from blocks
        return
    clock = WallClock(choices.zone, choices.repeated_hour)
    held: list[Rows] = []
    for block in blocks:
        rows = Rows.joined([*held, block]) if held else block
        cut = clock.held_from(rows.us)
        held = [rows[cut:]] if cut < len(rows) else []
        yield _localised(rows[:cut], clock, findings)
    for rows in held:
        yield _localised(rows, clock, findings)


def _localised(rows: Rows, clock: WallClock, findings: Findings) -> Rows:
    found = clock.to_utc(rows.us)
    for place in np.flatnonzero(found.missing):
        findings.add(
            rows.line[place],
            say("{us} was skipped when the clock changed", us=_wall(rows.us[place])),
        )
    undecided = np.flatnonzero(found.undecided)
    if undecided.size:
        first, last = rows.us[undecided].min(), rows.us[undecided].max()
        findings.add(
            rows.line[undecided[0]],
            say(
                "{first} to {last} came twice when the clock changed and the order"
                " of the rows does not tell which: choose first or second, or"
                " another zone if the clock ran in another",
                first=_wall(first),
                last=_wall(last),
            ),
        )
    return Rows(rows.line, found.at_us, rows.value)[~found.missing]


def _wall(us: int) -> str:
    return str(np.datetime64(int(us), "us").astype("M8[s]")).replace("T", " ")


def _cleaned(blocks: Iterable[Rows], layout, choices, findings, tally) -> Iterator[Rows]:
    """Rows in order of time, each time once; counted on the way."""
    if choices.sort:
        every = list(blocks)
        blocks = [_sorted(Rows.joined(every))] if every else []
    for block in blocks:
        rows = block if tally.last is None else Rows.joined([tally.last, block])
        if (np.diff(rows.us) <= 0).any():
            rows = _each_time_once(rows, findings, tally)
        _count(rows, layout, choices, tally)
        rows = rows if tally.last is None else rows[1:]
        if len(rows):
            tally.last = rows[-1:]
            yield rows


def _sorted(rows: Rows) -> Rows:
    return rows[np.argsort(rows.us, kind="stable")]


def _each_time_once(rows: Rows, findings: Findings, tally: _Tally) -> Rows:
    latest = np.maximum.accumulate(rows.us)
    late = rows.us < latest
    for place in np.flatnonzero(late):
        findings.add(rows.line[place], "this row is earlier than one before it: put rows in order")
    rows = rows[~late]
    again = np.concatenate(([False], np.diff(rows.us) == 0))
    first = np.maximum.accumulate(np.where(again, 0, np.arange(len(rows))))
    other = again & (rows.value != rows.value[first])
    tally.duplicates += int(again.sum() - other.sum())
    tally.conflict_count += int(other.sum())
    tally.conflicts += rows.line[other][: MOST_NAMED - len(tally.conflicts)].tolist()
    return rows[~again]


def _count(rows: Rows, layout: EnergyLayout, choices: EnergyChoices, tally: _Tally) -> None:
    """Count rows, of which the first is the last one of before if there was any."""
    new = rows if tally.last is None else rows[1:]
    if tally.last is None and len(rows):
        tally.first_us = int(rows.us[0])
    tally.rows += len(new)
    tally.value_sum += float(new.value.sum())
    if layout.kind == COUNTER:
        fell = np.flatnonzero(np.diff(rows.value) < 0) + 1
        if not choices.falls_are_resets:
            unsaid = [place for place in fell.tolist() if not _rolled(rows, place, choices)]
            tally.falls += rows.line[unsaid].tolist()
        return
    wide = np.flatnonzero(np.diff(rows.us) > choices.max_gap_s * US_PER_S)
    tally.gap_count += len(wide)
    for place in wide[: MOST_NAMED - len(tally.gaps)].tolist():
        tally.gaps.append(Gap(int(rows.us[place]), int(rows.us[place + 1])))


def _rolled(rows: Rows, place: int, choices: EnergyChoices) -> bool:
    dial = choices.rollover_kwh
    return dial is not None and rows.value[place] - rows.value[place - 1] + dial < dial / 2


def _preview(findings: Findings, tally: _Tally, points: EnergyPoints) -> EnergyPreview:
    return EnergyPreview(
        findings.digest,
        tally.rows,
        tally.first_us,
        int(tally.last.us[0]) if tally.last is not None else None,
        tally.value_sum,
        float(points.kwh[-1]) if len(points) else 0.0,
        int(points.covered_us[-1]) / US_PER_S if len(points) else 0.0,
        tuple(tally.gaps),
        tally.gap_count,
        tally.duplicates,
        tuple(tally.conflicts),
        tally.conflict_count,
        findings.missing,
        tuple(tally.falls),
        tuple(findings.problems),
        findings.problem_count,
    )
