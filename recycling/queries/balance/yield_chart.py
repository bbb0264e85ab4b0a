"""The yield of a stage over time, with limits, and the runs that fall outside them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

from recycling.calc.balance.control_chart import RULES, individuals_chart
from recycling.calc.balance.coverage import stated
from recycling.calc.balance.yields import stage_yield
from recycling.models import Run
from recycling.records.balance.yields import YieldChart, YieldPoint
from recycling.records.setup.practice import PracticeRow
from shared.measured import Measured


class Yielding(Protocol):
    """What one run's yield is made of."""

    @property
    def run(self) -> Run:
        """The run."""

    @property
    def product(self) -> Measured:
        """Product given, mg."""

    @property
    def ended_at(self) -> datetime:
        """When the run ended."""

    @property
    def target(self) -> Measured:
        """Target polymer fed, mg."""


def yield_chart(
    firm: PracticeRow, found: Sequence[Yielding], stage: str, machine: str, run_rules: bool
) -> YieldChart | None:
    """Draw up the chart of a stage's runs in the order they ended; None for fewer than two.

    `firm` is from how many runs on its limits are no longer provisional.
    """
    runs = [one for one in found if one.target.value and one.product.value]
    if len(runs) < 2:
        return None
    ratios = [stage_yield(one.product, one.target) for one in runs]
    codes = [one.run.code for one in runs]
    shares = [one.value for one in ratios]
    chart = individuals_chart(shares, codes, run_rules, round(firm.value))
    signals: dict[int, list[str]] = defaultdict(list)
    for signal in chart.signals:
        signals[signal.place].append(RULES[signal.rule])
    points = tuple(
        YieldPoint(
            one.run.code,
            one.ended_at,
            ratio.value,
            ratio.u,
            chart.moving_ranges[place - 1] if place else None,
            tuple(signals[place]),
            stated(ratio).half,
        )
        for place, (one, ratio) in enumerate(zip(runs, ratios, strict=True))
    )
    return YieldChart(
        stage,
        machine,
        points,
        chart.mean,
        chart.lower,
        chart.upper,
        chart.mean_moving_range,
        chart.range_upper,
        chart.provisional,
        firm,
    )
