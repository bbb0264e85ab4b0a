"""Yields of a period by stage, machine, operator, polymer, source or month, wet and dry."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Case, F, FloatField, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Cast

from recycling.calc.balance.yields import chain_yield, first_pass_yield, stage_yield
from recycling.models import Composition, Run
from recycling.queries.balance.balance import checked_period
from recycling.queries.balance.closures import CLOSING
from recycling.queries.balance.covered import covered
from recycling.queries.balance.known_masses import Figure, Instruments, figures_by_run
from recycling.queries.balance.loss_steps import loss_steps
from recycling.queries.balance.moisture import Dryness, dryness_of
from recycling.queries.balance.yield_chart import yield_chart
from recycling.queries.setup.parameters import entered
from recycling.records.actors import Actor
from recycling.records.balance.yields import Ratio, YieldRow, Yields
from recycling.stages import Keys
from recycling.stages.declaration import MIXED, PRODUCT, RECIRCULATE, RETURNED
from shared.errors import Refused
from shared.measured import Measured, total
from shared.said import say

GROUPS = ("stage", "machine", "operator", "polymer", "source", "month")
IN_A_ROW = Keys(lambda one: one.works and one.in_a_row)


@dataclass(frozen=True)
class RunYield:
    """What one run's yield is made of; masses with their uncertainties, mg."""

    run: Run
    product: Measured
    fresh: Measured
    again: Measured
    dryness: Dryness | None

    @property
    def ended_at(self) -> datetime:
        """When the run ended; an open one has no yield."""
        assert self.run.ended_at is not None
        return self.run.ended_at

    @property
    def target(self) -> Measured:
        """Target polymer fed, for the first time or again."""
        return self.fresh + self.again


def yields(
    actor: Actor,
    start: datetime,
    end: datetime,
    by: str = "stage",
    stage: str = "",
    machine: str = "",
    polymer: str = "",
    run_rules: bool = False,
) -> Yields:
    """Work out the yields of runs that ended in a period, and where its mass went.

    Raises
    ------
    Refused
        When the period ends before it starts, or there is no such grouping.
    """
    checked_period(start, end)
    if by not in GROUPS:
        raise Refused.because(
            "grouping-unknown", say("One of {groups}.", groups=", ".join(GROUPS)), "/by"
        )
    runs = Run.objects.filter(
        workshop_id=actor.workshop_id,
        state=Run.CLOSED,
        stage__in=CLOSING,
        ended_at__gte=start,
        ended_at__lt=end,
    )
    chosen = runs
    for name, value in (("stage", stage), ("machine__name", machine), ("polymer", polymer)):
        chosen = chosen.filter(**{name: value}) if value else chosen
    by_them = entered(actor.workshop_id)
    instruments = Instruments.of(actor.workshop_id, by_them)
    every = _listed(runs)
    wanted = [
        run
        for run in every
        if stage in ("", run.stage)
        and machine in ("", run.machine.name if run.machine else None)
        and polymer in ("", run.polymer)
    ]
    found = run_yields(actor.workshop_id, chosen, instruments, wanted)
    machines = tuple(sorted({run.machine.name for run in every if run.machine} - {""}))
    polymers = tuple(sorted({run.polymer for run in every} - {""}))
    firm = by_them.practice["chart_runs"]
    stages, chain = _chain(found)
    return Yields(
        by=by,
        rows=_rows(found, chosen, by, ZoneInfo(actor.zone)),
        chain_stages=stages,
        chain=chain,
        chart=yield_chart(firm, found, stage, machine, run_rules) if stage else None,
        losses=loss_steps(actor.workshop_id, start, end),
        machines=machines,
        polymers=polymers,
    )


def _listed(runs: QuerySet[Run]) -> list[Run]:
    """Read runs with their machines, in the order they ended."""
    return list(runs.select_related("machine").order_by("ended_at", "number"))


def run_yields(
    workshop_id: int,
    runs: QuerySet[Run],
    instruments: Instruments | None = None,
    listed: Sequence[Run] | None = None,
) -> list[RunYield]:
    """Work out what each run's yield is made of, in the order they ended.

    `listed` are the runs, where they were read already.
    """
    figures = figures_by_run(workshop_id, Q(entry__process__run__in=runs), instruments)
    dry = dryness_of(runs)
    listed = _listed(runs) if listed is None else listed
    return [
        _run_yield(run, figures[run.pk], dry.get(run.pk)) for run in listed if run.pk in figures
    ]


def _run_yield(run: Run, figures: list[Figure], dryness: Dryness | None) -> RunYield:
    def summed(wanted: Callable[[Figure], bool]) -> Measured:
        return total(one.measured for one in figures if wanted(one))

    def target(one: Figure) -> bool:
        return one.sign > 0 and run.polymer in (one.row["polymer"], MIXED)

    def back(one: Figure) -> bool:
        return one.sign < 0 and one.row["role"] == RETURNED

    def again(one: Figure) -> bool:
        return one.row["role"] == RECIRCULATE and one.row["stage"] == run.stage

    return RunYield(
        run,
        summed(lambda one: one.of_product),
        summed(lambda one: target(one) and not again(one)) - summed(back),
        summed(lambda one: target(one) and again(one)),
        dryness,
    )


def _rows(
    found: list[RunYield], runs: QuerySet[Run], by: str, zone: ZoneInfo
) -> tuple[YieldRow, ...]:
    if by == "source":
        return _by_source(found, runs)
    grouped: dict[str, list[RunYield]] = defaultdict(list)
    operators: dict[int, list[str]] = defaultdict(list)
    if by == "operator":
        for run_id, name in runs.values_list("pk", "operators__name"):
            operators[run_id].append(name or "")
    keys: Mapping[str, Callable[[RunYield], Iterable[str]]] = {
        "stage": lambda one: [one.run.stage],
        "machine": lambda one: [one.run.machine.name if one.run.machine else ""],
        "operator": lambda one: operators[one.run.pk],
        "polymer": lambda one: [one.run.polymer],
        "month": lambda one: [one.ended_at.astimezone(zone).strftime("%Y-%m")],
    }
    for one in found:
        for key in keys[by](one):
            grouped[key].append(one)
    order = (lambda key: [*CLOSING].index(key)) if by == "stage" else (lambda key: key)
    return tuple(_row(key, grouped[key]) for key in sorted(grouped, key=order))


def _row(key: str, runs: list[RunYield]) -> YieldRow:
    product, fresh, again = (
        total(getattr(one, name) for one in runs) for name in ("product", "fresh", "again")
    )
    fed = fresh + again
    dry = [one for one in runs if one.dryness]
    return YieldRow(
        key,
        len(runs),
        len(dry),
        round(product.value),
        round(fed.value),
        round(again.value),
        _ratio(first_pass_yield(product, fresh, again)) if fed.value else None,
        _ratio(stage_yield(product, fresh)) if fresh.value and again.value else None,
        _dry(dry),
    )


def _ratio(measured: Measured) -> Ratio:
    return Ratio(measured.value, measured.u, covered(measured))


def _dry(runs: list[RunYield]) -> Ratio | None:
    product = total(one.dryness.after(one.product) for one in runs if one.dryness)
    target = total(one.dryness.before(one.target) for one in runs if one.dryness)
    return _ratio(stage_yield(product, target)) if target.value else None


def _by_source(found: list[RunYield], runs: QuerySet[Run]) -> tuple[YieldRow, ...]:
    """Share what each run was fed and gave over sources, by what is in the lots.

    A source's part of a run is as sure, in proportion, as the run's own figures; the yields of a
    source rest on the runs that it came into, and on no others.
    """
    part = Cast(F("mass_mg"), FloatField()) / Cast(F("lot__made_mg"), FloatField())
    drawn = Composition.objects.filter(
        lot__draws__run__in=runs, lot__polymer=F("lot__draws__run__polymer"), lot__made_mg__gt=0
    )
    drawn = drawn.annotate(
        again=Case(
            When(
                lot__role=RECIRCULATE,
                lot__made_by__stage=F("lot__draws__run__stage"),
                then=Value(1),
            ),
            default=Value(0),
        )
    )
    part_drawn = part * Cast(F("lot__draws__mass_mg"), FloatField())
    made = Composition.objects.filter(lot__made_by__in=runs, lot__role=PRODUCT)
    made = made.annotate(again=Value(MADE))
    fresh, once_more, given = _masses_by_source(
        _by_origin(drawn, "lot__draws__run_id", part_drawn),
        _by_origin(made, "lot__made_by_id", Cast(F("mass_mg"), FloatField())),
    )
    rows = []
    for name in sorted(fresh.keys() | once_more.keys()):
        parts = [
            RunYield(
                one.run,
                _part(one.product, given[name][one.run.pk]),
                _part(one.fresh, fresh[name][one.run.pk]),
                _part(one.again, once_more[name][one.run.pk]),
                one.dryness,
            )
            for one in found
            if fresh[name][one.run.pk] + once_more[name][one.run.pk] >= 1
        ]
        if parts:
            rows.append(_row(name, parts))
    return tuple(rows)


def _part(whole: Measured, mass_mg: float) -> Measured:
    return whole.times(mass_mg / whole.value) if whole.value else Measured(mass_mg)


BySource = dict[str, dict[int, float]]
MADE = 2
"""Stands beside 0, fed for the first time, and 1, fed again."""


def _by_origin(parts: QuerySet[Composition], run: str, mass: Any) -> QuerySet[Any, Any]:
    columns = ("origin__source__name", "origin__kind", run, "again")
    return parts.values_list(*columns).order_by().annotate(sum=Sum(mass))


def _masses_by_source(fed: QuerySet[Any, Any], made: QuerySet[Any, Any]) -> list[BySource]:
    """Add up masses in mg by source, or kind of origin, and run: fed first, again, and made."""
    sums: list[BySource] = [defaultdict(lambda: defaultdict(float)) for _ in range(MADE + 1)]
    for name, kind, run_id, part, mass_mg in fed.union(made, all=True):
        sums[part][name or kind][run_id] += mass_mg
    return sums


def _chain(found: list[RunYield]) -> tuple[tuple[str, ...], Ratio | None]:
    """Give the yield over the stages in a row; what goes round again is fed to each once."""
    masses: dict[str, Measured] = {}
    stages = []
    for stage in IN_A_ROW:
        runs = [one for one in found if one.run.stage == stage]
        product, fresh = total(one.product for one in runs), total(one.fresh for one in runs)
        if product.value and fresh.value:
            stages.append(stage)
            masses |= {f"{stage} out": product, f"{stage} in": fresh}
    if len(stages) < 2:
        return tuple(stages), None
    steps = [(f"{stage} out", f"{stage} in") for stage in stages]
    return tuple(stages), _ratio(chain_yield(steps, masses))
