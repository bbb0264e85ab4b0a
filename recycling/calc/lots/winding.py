"""When each output of a run was made, and what was set meanwhile.

An output holds nothing that was set after it was taken off the machine: its *interval* runs from
the cut before it, or the start of the run, to its own cut. What share of a spool a setting has is
the part of that interval in which it was in force.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime

from recycling.calc.keys import Key

Interval = tuple[datetime, datetime]
Changes = Sequence[tuple[datetime, str]]
"""When a setting was given which value, in order of time."""


def intervals(
    started_at: datetime,
    cut_at: Mapping[Key, datetime],
    mass_mg: Mapping[Key, int],
    left: Key | None = None,
    in_order: bool = False,
) -> dict[Key, Interval]:
    """Say from when to when each output of a run was made.

    Parameters
    ----------
    started_at : datetime
        Start of the run.
    cut_at : mapping of output to datetime
        When each was taken off, in the order given; of a run written down afterwards all at its
        end.
    mass_mg : mapping of output to int
        Mass of each, mg.
    left : output or None
        The heel that was left: it takes no time of its own.
    in_order : bool
        Whether the order given is the order made. Outputs of one moment then share their time out
        by mass, at even flow; else each has all of it.

    Returns
    -------
    dict of output to (datetime, datetime)
        From and to; the same where no time passed.

    Examples
    --------
    Two spools of a run of two hours, the second of three times the mass:

    >>> start, end = datetime(2026, 1, 1, 8), datetime(2026, 1, 1, 10)
    >>> found = intervals(start, {"a": end, "b": end}, {"a": 1, "b": 3}, in_order=True)
    >>> found["a"][1] == found["b"][0] == datetime(2026, 1, 1, 8, 30)
    True
    """
    groups: dict[datetime, list[Key]] = defaultdict(list)
    for lot, at in cut_at.items():
        if lot != left:
            groups[max(at, started_at)].append(lot)
    found: dict[Key, Interval] = {}
    before = started_at
    for at in sorted(groups):
        if in_order:
            found |= _shared(before, at, groups[at], mass_mg)
        else:
            found |= dict.fromkeys(groups[at], (before, at))
        before = at
    if left in cut_at:
        found[left] = before, max(before, cut_at[left])
    return found


def _shared(
    start: datetime, end: datetime, lots: Sequence[Key], mass_mg: Mapping[Key, int]
) -> dict[Key, Interval]:
    """Share a time out over outputs by their masses, one after the other."""
    whole = sum(mass_mg.get(lot, 0) for lot in lots)
    passed, found = 0, {}
    for lot in lots:
        begun = start + (end - start) * (passed / whole if whole else 0.0)
        passed += mass_mg.get(lot, 0)
        found[lot] = begun, start + (end - start) * (passed / whole if whole else 1.0)
    return found


def in_force(changes: Changes, interval: Interval) -> dict[str, float]:
    """Say for what part of an interval each value of a setting was in force.

    Parameters
    ----------
    changes : sequence of (datetime, str)
        When the setting was given which value, in order of time; it keeps a value until the next.
    interval : (datetime, datetime)
        From and to. Where they are one moment, what was in force then has all of it.

    Returns
    -------
    dict of str to float
        Part of the interval, above 0 to 1; the parts add up to 1, or to less where no value was
        noted yet. NaN for values of which only is known that they were set at one moment, where
        any of them was in force in the interval.

    Examples
    --------
    >>> def at(minute): return datetime(2026, 1, 1, 8, minute)
    >>> {value: round(part, 3) for value, part in in_force(
    ...     [(at(0), "260"), (at(20), "270"), (at(50), "240")], (at(10), at(40))).items()}
    {'260': 0.333, '270': 0.667}
    """
    start, end = interval
    values: dict[datetime, list[str]] = defaultdict(list)
    for at, value in changes:
        if value not in values[at]:
            values[at].append(value)
    moments = sorted(values)
    found: dict[str, float] = defaultdict(float)
    for at, until in zip(moments, [*moments[1:], None], strict=True):
        if end == start:
            part = float(at <= end and (until is None or until > end))
        else:
            part = _overlap(at, until, start, end)
        for value in values[at] if part > 0 else ():
            found[value] += part if len(values[at]) == 1 else float("nan")
    return dict(found)


def _overlap(at: datetime, until: datetime | None, start: datetime, end: datetime) -> float:
    last = end if until is None else min(until, end)
    return max((last - max(at, start)) / (end - start), 0.0)
