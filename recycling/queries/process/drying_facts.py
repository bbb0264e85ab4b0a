"""What is known of one drying: its log, what it left, and the most it can have taken up since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from recycling.calc.process import drying
from recycling.calc.process.regain import diffusivity_at, moisture_at_most
from recycling.records.setup.practice import MaterialRow, PracticeRow

Pieces = list[tuple[float, float]]
HOUR = timedelta(hours=1)
Events = Sequence[tuple[datetime, str]]


def number(text: str) -> float:
    """Read a number as it was typed."""
    return float(text.replace(",", "."))


@dataclass(frozen=True)
class Drying:
    """A drying run as it was noted; `settings` are key, moment and value, in order of time."""

    polymer: str
    ended_at: datetime
    notes: Mapping[str, str]
    settings: Sequence[tuple[str, datetime, str]]

    def log(self, recipe: MaterialRow | None) -> tuple[Pieces, str]:
        """Give its temperatures as pieces of time: real ones, else those set, else as typed."""
        for key, source in (("real_c", "real"), ("set_c", "set")):
            rows = [(at, value) for one, at, value in self.settings if one == key]
            rows = [one for one in rows if one[0] < self.ended_at]
            if rows:
                ends = [at for at, _ in rows[1:]] + [self.ended_at]
                return [
                    (max(0.0, (until - at) / HOUR), number(value))
                    for (at, value), until in zip(rows, ends, strict=True)
                ], source
        if "hours_at_temperature" in self.notes and recipe is not None:
            return [(number(self.notes["hours_at_temperature"]), recipe.values["least_c"])], "typed"
        return [], ""

    def ready_at(self, recipe: MaterialRow | None) -> datetime | None:
        """Say when one that goes on, noted until `ended_at`, is done if its heat stays as it is.

        None where no heat was noted, there is no recipe, or the last heat is not one of it.
        """
        pieces, _ = self.log(recipe)
        if recipe is None or not pieces:
            return None
        hours = drying.ready_in_h(pieces, drying.Recipe(**recipe.values))
        return None if hours is None else self.ended_at + hours * HOUR

    def check(self, recipe: MaterialRow | None) -> drying.DryingCheck | None:
        """Hold it against a recipe; None where nothing was logged or there is none."""
        pieces, _ = self.log(recipe)
        if recipe is None or not pieces:
            return None
        return drying.drying_check(pieces, drying.Recipe(**recipe.values))

    def moisture(self, data: MaterialRow | None, recipe: MaterialRow | None) -> float | None:
        """Give the moisture it left, a share: measured, else estimated; None where neither is."""
        measured = self.notes.get("moisture_after_percent")
        if measured:
            return number(measured) / 100
        warm = [piece for piece in self.log(recipe)[0] if piece[0] > 0]
        if data is None or not warm:
            return None
        one = data.values
        total_h = sum(hours for hours, _ in warm)
        mean_c = sum(hours * celsius for hours, celsius in warm) / total_h
        before = self.notes.get("moisture_before_percent")
        start = number(before) / 100 if before else one["start_percent"] / 100
        if start >= 1:
            return None
        diffusivity = drying.diffusivity_m2_per_s(
            mean_c, one["factor_m2_per_s"], one["activation_kj_per_mol"]
        )
        balance = min(one["balance_percent"] / 100, start)
        return drying.remaining_moisture(start, balance, one["thickness_mm"], diffusivity, total_h)

    def open_h(self, until: datetime, events: Events) -> float:
        """Add up the time that what it gave was not sealed until a moment, h."""
        sealed = self.notes.get("kept") == "sealed"
        return sum(stretches_open(self.ended_at, until, events, sealed))


def bound_after(
    left: float | None,
    open_h: float,
    regain: MaterialRow | None,
    practice: Mapping[str, PracticeRow],
) -> float | None:
    """Give the most moisture after a time open, a share; None where a figure is not known."""
    if left is None or left >= 1:
        return left
    if open_h == 0:
        return left
    if regain is None:
        return None
    one = regain.values
    return moisture_at_most(
        left,
        open_h,
        one["thickness_mm"],
        diffusivity_at(
            practice["room_c"].value, one["diffusivity_m2_per_s"], one["activation_kj_per_mol"]
        ),
        one["saturation_percent"] / 100,
        practice["humidity_percent"].value / 100,
    )


def takes_up_water(limits: MaterialRow | None) -> bool | None:
    """Say whether a polymer takes up water; None where nobody said."""
    return None if limits is None else bool(limits.values["hygroscopic"])


def stretches_open(
    start: datetime, until: datetime, changes: Iterable[tuple[datetime, str]], sealed: bool
) -> list[float]:
    """Give each stretch of time that a lot was not sealed, h."""
    found, since = [], None if sealed else start
    for moment, kind in changes:
        moment = max(moment, start)
        if moment >= until:
            break
        if kind == "sealed" and since is not None:
            found.append((moment - since) / HOUR)
            since = None
        elif kind == "opened" and since is None:
            since = moment
    if since is not None and until > since:
        found.append((until - since) / HOUR)
    return found
