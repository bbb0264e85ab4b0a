"""Interleaved medians: two ways to the same answer, timed turn by turn in one run."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import median
from time import perf_counter
from typing import Any

Timed = Callable[[Any], Any]


@dataclass(frozen=True)
class Ratio:
    """What the service took for each unit of what the anchor took.

    Attributes
    ----------
    what, anchor : str
        What was measured, and against what.
    service_ms, anchor_ms : float
        Medians over the cases, in milliseconds.
    cases : int
        How many pairs were timed.
    goal : float or None
        The ratio that is wanted at most; None where there is none.
    note : str
        What else should be known.
    """

    what: str
    anchor: str
    service_ms: float
    anchor_ms: float
    cases: int
    goal: float | None
    note: str = ""

    @property
    def ratio(self) -> float:
        """Service over anchor."""
        return self.service_ms / self.anchor_ms

    @property
    def met(self) -> bool:
        """Whether the goal is met; true where there is none."""
        return self.goal is None or self.ratio <= self.goal


def interleaved(
    what: str,
    anchor_name: str,
    service: Timed,
    anchor: Timed,
    cases: Iterable[Any],
    goal: float | None = None,
    note: str = "",
    agree: Callable[[Any, Any], bool] | None = None,
    before: Callable[[], None] = lambda: None,
) -> Ratio:
    """Time a service and its anchor on the same cases, turn by turn, the first to go alternating.

    `before` is called, untimed, ahead of each.

    Raises
    ------
    AssertionError
        When `agree` says that both did not give the same answer.
    """
    taken: dict[str, list[float]] = {"service": [], "anchor": []}
    gc.collect()
    for place, case in enumerate(cases):
        answers = {}
        ways = [("service", service), ("anchor", anchor)]
        for name, way in ways if place % 2 else reversed(ways):
            before()
            begun = perf_counter()
            answers[name] = way(case)
            taken[name].append((perf_counter() - begun) * 1000)
        assert agree is None or agree(answers["service"], answers["anchor"]), f"{what}: {case}"
    return Ratio(
        what,
        anchor_name,
        median(taken["service"]),
        median(taken["anchor"]),
        len(taken["service"]),
        goal,
        note,
    )


def table(ratios: Iterable[Ratio]) -> str:
    """Write ratios as lines for people."""
    lines = [f"{'':38} {'service':>11} {'anchor':>11} {'ratio':>7} {'goal':>7}  against"]
    for one in ratios:
        goal = f"≤ {one.goal:g}" if one.goal is not None else "–"
        verdict = "" if one.met else "  MISSED"
        lines.append(
            f"{one.what:38} {one.service_ms:8.3f} ms {one.anchor_ms:8.3f} ms {one.ratio:7.2f}"
            f" {goal:>7}  {one.anchor}, {one.cases} cases{verdict}"
        )
        if one.note:
            lines.append(f"{'':38} {one.note}")
    return "\n".join(lines)
