"""In which order runs on a way took in and gave, as far as it is known: the shares rest on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from recycling.calc.lots.feed_order import FEED_ORDER
from recycling.calc.lots.parts import parts_given
from recycling.calc.lots.recomposition import FeedLog, Portion, portions
from recycling.calc.lots.winding import Interval
from recycling.models import Run
from recycling.queries.lots.run_paths import Way
from recycling.queries.runs.feed_order import LoggedRun, logged_runs
from recycling.stages import stage


class WayOrder:
    """What each run on a way took in, portion by portion, and which of it each output got."""

    def __init__(self, way: Way, timed: Collection[int] = ()) -> None:
        """Look at runs with a heel, and at those of which it matters what they gave when."""
        self.way, self._timed = way, timed

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
