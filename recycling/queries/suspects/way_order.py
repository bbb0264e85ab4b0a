"""In which order runs on a way took in and gave, as far as it is known: the shares rest on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from recycling.calc.lots.feed_order import FEED_ORDER, NOT_KNOWN, STATED_ORDER, WELL_MIXED
from recycling.calc.lots.parts import parts_given
from recycling.calc.lots.recomposition import FeedLog, Portion, portions
from recycling.calc.lots.winding import Interval
from recycling.models import Run
from recycling.queries.lots.run_paths import Way
from recycling.queries.runs.feed_order import LoggedRun, logged_runs
from recycling.stages import stage

WEAKEST_LAST = ("", FEED_ORDER, STATED_ORDER, WELL_MIXED, NOT_KNOWN)


class WayOrder:
    """What each run on a way took in, portion by portion, and which of it each output got."""

    def __init__(self, way: Way, timed: Collection[int] = ()) -> None:
        """Look at runs with a heel, and at those of which it matters what they gave when."""
        self.way, self._timed = way, timed
        self._rests: dict[int, str] = {}

    @cached_property
    def _logged(self) -> Mapping[int, LoggedRun]:
        told = {
            run_id for run_id, run in self.way.runs.items() if run.went_on or _keeps_heel(run.stage)
        }
        return logged_runs(told | set(self._timed))

    def is_in_order(self, run_id: int) -> bool:
        """Say whether the shares of a run go by the order fed; one that goes on is mixed."""
        run = self.way.runs[run_id]
        return run.model == FEED_ORDER and run.state != Run.OPEN

    def portions(self, run_id: int) -> list[Portion]:
        """List what a run took in, in the order fed where refills were logged."""
        logged = self._logged.get(run_id)
        if logged is None:
            return [Portion(*draw) for draw in self.way.draws[run_id]]
        return portions(logged.masses.draws, self._log(run_id, logged))

    def _log(self, run_id: int, logged: LoggedRun) -> FeedLog:
        """Give the order fed; of a mixed run that was recorded whole, the order drawn."""
        in_order = self.is_in_order(run_id)
        if in_order or self.way.runs[run_id].went_on:
            return replace(logged.log, in_order=in_order)
        return replace(logged.log, fed=(), fed_at=(), in_order=False)

    def returned(self, run_id: int) -> frozenset[int]:
        """Give the lots that came back as they were drawn: they met nothing in the run."""
        logged = self._logged.get(run_id)
        return logged.masses.returned if logged else frozenset()

    def parts(self, run_id: int) -> dict[int, np.ndarray]:
        """Give what part of each output comes from each portion; nothing where all are alike."""
        logged = self._logged.get(run_id)
        if logged is None:
            return {}
        log = self._log(run_id, logged)
        if not (log.in_order or logged.masses.returned or self.way.runs[run_id].went_on):
            return {}
        return parts_given(logged.masses, log)

    def rests_on(self, run_id: int) -> str:
        """Say what shares in what a run gave rest on: the order of the melt that it came out of.

        Of several the weakest; empty where none is on the way.
        """
        if run_id not in self._rests:
            self._rests[run_id] = ""  # a book has no circles; a damaged one must not hang
            run = self.way.runs.get(run_id)
            if run is not None and _keeps_heel(run.stage):
                self._rests[run_id] = self._melt_rests_on(run_id)
            elif run is not None:
                above = {self.way.lots[lot].maker for lot, _ in self.way.draws[run_id]}
                found = [self.rests_on(one) for one in above]
                self._rests[run_id] = max(found, key=WEAKEST_LAST.index, default="")
        return self._rests[run_id]

    def _melt_rests_on(self, run_id: int) -> str:
        logged, run = self._logged[run_id], self.way.runs[run_id]
        if len(logged.masses.draws) < 2:
            return FEED_ORDER  # one lot alone is in order, whatever the times
        if self.is_in_order(run_id):
            return FEED_ORDER if logged.known else STATED_ORDER
        chosen = run.model == WELL_MIXED and run.state != Run.OPEN and logged.known
        return WELL_MIXED if chosen else NOT_KNOWN

    def unordered(self, lot_id: int, maker: int) -> tuple[int, float] | None:
        """Give the melt of unknown order that a lot came out of whole, and its mass there, mg."""
        run = self.way.runs.get(maker)
        if run is None:
            return None
        if _keeps_heel(run.stage):
            masses = {lot: mass_mg for lot, mass_mg, _ in self._logged[maker].masses.outputs}
            known = self.rests_on(maker) != NOT_KNOWN
            return None if known or lot_id not in masses else (maker, masses[lot_id])
        drawn = self.way.draws[maker]
        if len(drawn) != 1:
            return None
        return self.unordered(drawn[0][0], self.way.lots[drawn[0][0]].maker)

    def fed(self, run_id: int) -> list[Portion]:
        """List what a run was fed, its heels left out."""
        heels = self._logged[run_id].log.heels
        return [one for one in self.portions(run_id) if one.lot not in heels]

    def intervals(self, run_id: int) -> dict[int, Interval]:
        """Say from when to when each output of a run was made."""
        started_at = self.way.runs[run_id].started_at
        return self._logged[run_id].made(started_at, self.is_in_order(run_id))


def gave(makers: Iterable[tuple[int, int]]) -> dict[int, tuple[int, ...]]:
    """Turn (lot id, run id) into the lots that each run gave, each once."""
    found: dict[int, dict[int, None]] = defaultdict(dict)
    for lot_id, run_id in makers:
        found[run_id][lot_id] = None
    return {run_id: tuple(lots) for run_id, lots in found.items()}


def _keeps_heel(key: str) -> bool:
    declared = stage(key)
    return declared is not None and declared.keeps_heel
