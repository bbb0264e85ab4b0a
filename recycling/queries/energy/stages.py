"""Energy of stages over a period, and the straight line through a stage's weeks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Q

from recycling.calc.energy.base_load import base_load
from recycling.models import Run
from recycling.queries.balance.balance import checked_period, stages_balance
from recycling.queries.energy.runs import Made, RunsEnergy, runs_where, spent, with_cover
from recycling.queries.energy.work import RunRow
from recycling.records.actors import Actor
from recycling.records.energy.figures import RunEnergyRecord, StageEnergy
from recycling.records.energy.stages import (
    BaseLoadPoint,
    BaseLoadRecord,
    PeriodEnergy,
    RunPart,
    StageWithEnergy,
)
from recycling.stages import STAGES
from shared.measured import Measured, total

MG_PER_KG = 1_000_000


def _ended(start: datetime, end: datetime, stage: str = "", polymer: str = "") -> Q:
    checked_period(start, end)
    chosen = Q(state=Run.CLOSED, ended_at__gte=start, ended_at__lt=end)
    if stage:
        chosen &= Q(stage=stage)
    if polymer:
        chosen &= Q(polymer=polymer)
    return chosen


def runs_energy(
    actor: Actor, start: datetime, end: datetime, stage: str = "", polymer: str = ""
) -> list[RunEnergyRecord]:
    """List the energy of the runs on machines that ended in a period, in the order of work.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    found = runs_where(actor.workshop_id, _ended(start, end, stage, polymer))
    return [found.records[run.pk] for run in found.rows]


def stages_energy(
    actor: Actor,
    start: datetime,
    end: datetime,
    polymer: str = "",
    made: Made | None = None,
    parts: Mapping[int, RunPart] | None = None,
) -> list[StageEnergy]:
    """Add up the energy of each stage over its closed runs that ended in a period.

    `made` are the products of all these runs, where they were read already. With `parts` it is
    so much of each run, and of no other runs.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    found = runs_where(actor.workshop_id, _ended(start, end, polymer=polymer), made=made)
    if parts is None:
        return _stages(found)
    mine = {pk: parts[pk].of(one) for pk, one in found.records.items() if pk in parts}
    products = {pk: _part_of(found.products[pk], one.product_mg) for pk, one in mine.items()}
    return _stages(replace(found, records=mine, products=products))


def _part_of(product_mg: Measured, part_mg: int) -> Measured:
    """Give a part of a product, as sure as all of it in proportion, mg."""
    share = part_mg / product_mg.value if product_mg.value else 0.0
    return Measured.of(part_mg, product_mg.times(share).parts)


def energy_of_period(actor: Actor, start: datetime, end: datetime, stage: str = "") -> PeriodEnergy:
    """Give the energy of a period: each stage, and base load and slope of one of them.

    Without a stage that has runs, it is the one that took most.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    found = runs_where(actor.workshop_id, _ended(start, end))
    stages = _stages(found)
    if all(one.stage != stage for one in stages):
        logged = [one for one in stages if one.runs_logged]
        stage = max(logged, key=lambda one: one.kwh).stage if logged else ""
    rows = [run for run in found.rows if run.stage == stage]
    line = _base_load(actor, stage, rows, found) if stage else None
    return PeriodEnergy(tuple(stages), stage, line)


def _stages(found: RunsEnergy) -> list[StageEnergy]:
    by_stage: dict[str, list[tuple[RunEnergyRecord, Measured]]] = defaultdict(list)
    for pk, record in found.records.items():
        by_stage[record.stage].append((record, found.products[pk]))
    return [
        _stage(declared.key, declared.title, by_stage[declared.key])
        for declared in STAGES
        if by_stage.get(declared.key)
    ]


def stages_with_energy(
    actor: Actor, start: datetime, end: datetime, polymer: str = ""
) -> list[StageWithEnergy]:
    """Add up each stage over its closed runs that ended in a period, its energy beside its masses.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    energies = {one.stage: one for one in stages_energy(actor, start, end, polymer)}
    found = []
    for balance in stages_balance(actor, start, end, polymer):
        energy = energies.get(balance.stage)
        logged = energy is not None and bool(energy.runs_logged)
        found.append(
            StageWithEnergy(
                **{field.name: getattr(balance, field.name) for field in fields(balance)},
                energy_kwh=energy.kwh if energy and logged else None,
                kwh_per_kg=energy.kwh_per_kg if energy and logged else None,
                energy_coverage=energy.coverage if energy else None,
            )
        )
    return found


def _stage(key: str, title: str, made: list[tuple[RunEnergyRecord, Measured]]) -> StageEnergy:
    runs = [run for run, _ in made]
    logged = [run for run in runs if run.method]
    kwh, product = spent(logged), total(mass for run, mass in made if run.method)
    currencies = {run.cost_currency for run in logged if run.cost is not None}
    carbons = [run.carbon_kg for run in logged if run.carbon_kg is not None]
    costs = [run.cost for run in logged if run.cost is not None]
    record = StageEnergy(
        stage=key,
        title=title,
        runs=len(runs),
        runs_logged=len(logged),
        runs_incomplete=sum(run.is_incomplete for run in logged),
        kwh=kwh.value,
        overhead_kwh=sum(run.overhead_kwh for run in logged),
        product_mg=sum(run.product_mg for run in runs),
        logged_product_mg=sum(run.product_mg for run in logged),
        covered_s=sum(run.covered_s for run in runs),
        span_s=sum(run.span_s for run in runs),
        cost=sum(costs) if len(currencies) == 1 else None,
        currency=next(iter(currencies)) if len(currencies) == 1 else "",
        carbon_kg=sum(carbons) if carbons else None,
        u_kwh=kwh.u,
        u_logged_product_mg=product.u,
    )
    return with_cover(record, kwh, product) if logged else record


def stage_base_load(actor: Actor, stage: str, start: datetime, end: datetime) -> BaseLoadRecord:
    """Fit base load and slope to a stage's weeks; weeks that logs cover too little are left out.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    found = runs_where(actor.workshop_id, _ended(start, end, stage))
    return _base_load(actor, stage, found.rows, found)


def _base_load(
    actor: Actor, stage: str, rows: Iterable[RunRow], found: RunsEnergy
) -> BaseLoadRecord:
    weeks: dict[str, list[RunEnergyRecord]] = defaultdict(list)
    zone = ZoneInfo(actor.zone)
    for run in rows:
        year, number, _ = run.ended_at.astimezone(zone).isocalendar()
        weeks[f"{year}-W{number:02}"].append(found.records[run.pk])
    points, left_out = [], 0
    least = found.least_covered
    for week, records in sorted(weeks.items()):
        spent_s = sum(one.span_s for one in records)
        covered = sum(one.covered_s for one in records) / spent_s if spent_s else 0.0
        if covered < least:
            left_out += 1
            continue
        mass_kg = sum(one.product_mg for one in records) / MG_PER_KG
        points.append(BaseLoadPoint(week, mass_kg, sum(one.kwh for one in records)))
    return _line(stage, tuple(points), left_out)


def _line(stage: str, points: tuple[BaseLoadPoint, ...], left_out: int) -> BaseLoadRecord:
    try:
        line = base_load([one.mass_kg for one in points], [one.kwh for one in points])
    except ValueError as error:
        return BaseLoadRecord(stage, points, left_out, why_not=str(error))
    return BaseLoadRecord(
        stage,
        points,
        left_out,
        line.base_kwh.value,
        line.base_kwh.u,
        line.slope_kwh_per_kg.value,
        line.slope_kwh_per_kg.u,
        line.r_squared,
    )
