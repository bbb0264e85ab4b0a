"""Counters that fall: taken as counting from zero, asked about, with the reason where one is said.

A counter falls where the meter was replaced, set to zero, or ran over its last digit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from recycling.keeping.doubted_figures import Asked
from recycling.records.balance.doubts import EntryDoubt, Suggestion
from recycling.records.energy.entries import FELL_BECAUSE, RAN_OVER
from shared.errors import Collected
from shared.said import say


@dataclass(frozen=True)
class Shown:
    """What a counter showed, kWh; `place` is empty where the book had it before."""

    at: datetime
    reading_kwh: float
    from_zero: bool = False
    fell_because: str = ""
    place: str | None = None

    @property
    def may_fall(self) -> bool:
        """Whether it is known why it shows less than before."""
        return self.from_zero or bool(self.fell_because)


def check_reason(one: Shown, found: Collected) -> None:
    """Note a problem of a reason that there is not."""
    if one.fell_because not in ("", *FELL_BECAUSE):
        said = say("One of {reasons}.", reasons=", ".join(FELL_BECAUSE))
        found.add("reason-unknown", said, f"{one.place or ''}/fell_because")


def with_falls(rows: Sequence[Shown], found: Collected) -> list[Shown]:
    """Let new readings that fall count from zero; notes a problem where it cannot have run so.

    Rows are in time order. What the book had is not changed: it may not fall below a new one.
    """
    told = list(rows)
    for number, (before, row) in enumerate(pairwise(rows), 1):
        falls = row.reading_kwh < before.reading_kwh
        if row.place is None:
            if falls and not row.may_fall and before.place is not None:
                _refuse_above(before, row, found)
        elif row.fell_because == RAN_OVER and not falls:
            said = say("It shows more than before, so it did not run over.")
            found.add("counter-rose", said, f"{row.place}/fell_because")
        elif falls or row.fell_because:
            from_zero = row.fell_because != RAN_OVER
            told[number] = replace(row, from_zero=from_zero)
    return told


def _refuse_above(before: Shown, row: Shown, found: Collected) -> None:
    text = say(
        "{reading_kwh:g} kWh is above {reading_kwh_2:g} kWh, which it showed later. Put the figure"
        " right, or take the later reading back first and note it again with why it fell.",
        reading_kwh=before.reading_kwh,
        reading_kwh_2=row.reading_kwh,
    )
    place = before.place or ""
    found.add("counter-fell", text, f"{place}/reading" if place else "/reading_kwh")


def falls_asked(rows: Sequence[Shown], typed: Sequence[Shown], machine: str) -> list[Asked]:
    """Ask why a counter shows less than before, where nobody said so."""
    said_of: Mapping[datetime, Shown] = {one.at: one for one in typed}
    asked = []
    for before, row in pairwise(rows):
        given = said_of.get(row.at)
        if given is None or given.may_fall or row.reading_kwh >= before.reading_kwh:
            continue
        said = say(
            "{machine}: {reading_kwh:g} kWh is below {before_kwh:g} kWh, which it showed before."
            " Why? Until it is said, it counts from zero.",
            machine=machine,
            reading_kwh=row.reading_kwh,
            before_kwh=before.reading_kwh,
        )
        field = f"{given.place}/fell_because"
        key = f"meter-back:{field}:{row.at:%Y-%m-%dT%H:%M}:{row.reading_kwh:g}"
        offered = tuple(Suggestion(one) for one in FELL_BECAUSE)
        asked.append(Asked(EntryDoubt(key, said, field, offered), math.inf))
    return asked
