"""Energy of runs: own, share of the session, how sure, least possible, cost and carbon."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import repeat
from typing import TypeVar

from django.db.models import F, Q

from recycling.calc.energy.factors import CarbonFactor, Tariff, carbon_kg, cost
from recycling.calc.energy.intervals import RATED
from recycling.calc.energy.totals import energy_total, meter_of, rated_of
from recycling.models import Run
from recycling.queries.balance.covered import covered
from recycling.queries.balance.known_masses import Figure, Instruments, figures, posted_of
from recycling.queries.energy.minimum import Minimum, minima_of
from recycling.queries.energy.prices import in_force
from recycling.queries.energy.sessions import Shared, shares_of
from recycling.queries.energy.work import RunRow, machines_work, row_of, run_rows, said_of_runs
from recycling.queries.runs.runs import record_of, run_of
from recycling.queries.setup.parameters import Entered, entered
from recycling.records.actors import Actor
from recycling.records.energy.figures import LotEnergy, RunEnergyRecord, StageEnergy
from recycling.records.runs.runs import RunRecord
from recycling.records.setup.machines import FactorRow, TariffRow
from recycling.stages.declaration import PRODUCT
from shared.measured import Measured, Source, total

MG_PER_KG = 1_000_000

Made = dict[tuple[int, int], Measured]
"""How sure the mass of each product is, mg, by run and lot."""


@dataclass(frozen=True)
class RunsEnergy:
    """Energy of runs on machines in the order they ended, and how sure the lots they gave are.

    `lots` are masses by lot, `products` by run.

    `least_covered` is the share of time that logs must cover for a figure to count as whole.
    """

    rows: tuple[RunRow, ...]
    records: dict[int, RunEnergyRecord]
    lots: dict[int, Measured]
    products: dict[int, Measured] = field(default_factory=dict)
    least_covered: float = 1.0


def run_energy(actor: Actor, code: str) -> RunEnergyRecord | None:
    """Give the energy of a run; None for one without a machine or that was voided.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    row = row_of(run_of(actor, code))
    return energies_of(actor.workshop_id, [row]).records[row.pk] if row else None


def run_and_energy(actor: Actor, code: str) -> tuple[RunRecord, RunEnergyRecord | None]:
    """Show a run with its energy once it is closed, from one reading of its figures.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    run = run_of(actor, code)
    row = row_of(run) if run.state == Run.CLOSED else None
    by = entered(run.workshop_id) if row else None
    instruments = Instruments.of(run.workshop_id, by) if by else Instruments(run.workshop_id)
    posted = posted_of(run, instruments)
    record = record_of(run, posted, instruments)
    if row is None:
        return record, None
    made = _sure_by_lot(one for one in posted.figures if one.of_product)
    energies = energies_of(run.workshop_id, [row], made=made, by=by)
    return record, energies.records[row.pk]


def runs_where(
    workshop_id: int, condition: Q, lot: int | None = None, made: Made | None = None
) -> RunsEnergy:
    """Give the energy of each run on a machine that fits a condition and is not void."""
    return energies_of(workshop_id, run_rows(Q(workshop_id=workshop_id) & condition), lot, made)


def energies_of(
    workshop_id: int,
    rows: Sequence[RunRow],
    lot: int | None = None,
    made: Made | None = None,
    by: Entered | None = None,
) -> RunsEnergy:
    """Give the energy of runs; `lot` names one more lot whose mass must be known as to sureness.

    `made` are the products of the runs and `by` what the workshop entered, where they were read
    already.
    """
    if not rows and lot is None:
        return RunsEnergy((), {}, {})
    by, work = by or entered(workshop_id), machines_work(rows)
    pks = {run.pk for run in rows} | {pk for done in work.values() for pk in done.runs}
    said = said_of_runs(pks)
    shares = shares_of(rows, work, said, by)
    minima = minima_of(rows, said, by)
    if made is None:
        made = _sure_lots(workshop_id, [run.pk for run in rows], by, lot)
    product: dict[int, list[Measured]] = defaultdict(list)
    for (run_id, _), mass_mg in made.items():
        product[run_id].append(mass_mg)
    records, products = {}, {}
    for run in rows:
        booked_mg = said[run.pk].mass_mg.get(PRODUCT, 0)
        mass_mg = Measured.of(booked_mg, total(product[run.pk]).parts)
        products[run.pk] = mass_mg
        records[run.pk] = _record(run, shares[run.pk], mass_mg, minima.get(run.pk), by)
    least_covered = by.practice["covered_percent"].value / 100
    sure = {pk: mass for (_, pk), mass in made.items()}
    return RunsEnergy(tuple(rows), records, sure, products, least_covered)


def _sure_lots(workshop_id: int, run_ids: Iterable[int], by: Entered, lot: int | None) -> Made:
    """Give how sure the products of runs are, by run and lot, and that of one lot more."""
    chosen = Q(entry__process_id__in=list(run_ids), account__lot__role=PRODUCT)
    if lot is not None:
        chosen |= Q(account_id=lot)
    made = chosen & Q(entry__process_id=F("account__lot__made_by_id"))
    return _sure_by_lot(figures(workshop_id, made, Instruments.of(workshop_id, by)))


def _sure_by_lot(known: Iterable[Figure]) -> Made:
    found: dict[tuple[int, int], list[Measured]] = defaultdict(list)
    for one in known:
        key = one.row["process_id"], one.row["account_id"]
        found[key].append(one.measured)
    return {key: total(parts) for key, parts in found.items()}


def _record(
    run: RunRow, share: Shared, product_mg: Measured, minimum: Minimum | None, by: Entered
) -> RunEnergyRecord:
    overhead_kwh = sum(one.kwh for one in share.overhead)
    kwh = Measured(share.own_kwh + overhead_kwh, share.u_kwh)
    day = run.started_at.astimezone(by.zone).date()
    tariff = in_force(by.tariffs, day) if share.method else None
    factor = in_force(by.factors, day) if share.method else None
    record = RunEnergyRecord(
        run=run.code,
        stage=run.stage,
        machine=run.machine,
        own_kwh=share.own_kwh,
        overhead_kwh=overhead_kwh,
        overhead=share.overhead,
        method=share.method,
        covered_s=share.covered_s,
        span_s=share.span_s,
        least_kwh=share.least_kwh,
        most_kwh=share.most_kwh,
        product_mg=round(product_mg.value),
        minimum_kwh=minimum[0] if minimum else None,
        minimum_note=minimum[1] if minimum else "",
        cost=cost(kwh, _tariff(tariff)).value if tariff else None,
        cost_currency=tariff.currency if tariff else "",
        cost_source=f"{tariff.source}, from {tariff.valid_from}" if tariff else "",
        carbon_kg=carbon_kg(kwh, _factor(factor)).value if factor else None,
        carbon_source=_factor_source(factor) if factor else "",
        sources=share.sources,
        u_kwh=share.u_kwh,
        u_common_kwh=share.u_common_kwh,
        u_product_mg=product_mg.u,
        u_basis=share.sure.basis if share.sure else "",
        u_percent=share.sure.percent if share.sure else None,
        u_source=share.sure.source if share.sure else "",
    )
    return with_cover(record, spent([record]), product_mg) if share.method else record


def spent(records: Iterable[RunEnergyRecord], shares: Iterable[float] = repeat(1.0)) -> Measured:
    """Add up the energy of runs, so much of each, with what their logs share, kWh."""
    return energy_total(
        (Measured(one.kwh, one.u_kwh), one.u_common_kwh, _log_of(one), share)
        for one, share in zip(records, shares, strict=False)
    )


def _log_of(record: RunEnergyRecord) -> Source:
    """Name what shares the common uncertainty of a run's energy."""
    return (rated_of if record.method == RATED else meter_of)(record.machine)


Told = TypeVar("Told", RunEnergyRecord, StageEnergy, LotEnergy)


def with_cover(record: Told, kwh: Measured, product_mg: Measured) -> Told:
    """State what covers an energy, and that of each kilogram."""
    each = covered((kwh / product_mg).times(MG_PER_KG)) if product_mg.value else None
    return replace(record, covered=covered(kwh), covered_per_kg=each)


def _tariff(row: TariffRow) -> Tariff:
    return Tariff(row.price_per_kwh, row.currency, row.source, row.read_date)


def _factor(row: FactorRow) -> CarbonFactor:
    return CarbonFactor(
        row.value, row.unit, row.scope, row.region, row.year, row.publisher, row.read_date
    )


def _factor_source(row: FactorRow) -> str:
    return f"{row.value:g} {row.unit}, {row.scope}, {row.region} {row.year}, {row.publisher}"
