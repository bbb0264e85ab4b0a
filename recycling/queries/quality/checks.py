"""What was checked of a lot: particles, filament, and what was set while it was made."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from recycling.calc.quality import filament as thread
from recycling.calc.quality.particles import particles_to_be_sure, size_check
from recycling.ledger.models import Posting
from recycling.models import FilamentReading, Lot, Polymer, Run, RunSetting
from recycling.queries.balance.covered import covered
from recycling.queries.lots.lots import lot_of
from recycling.queries.people.names import Names
from recycling.queries.process.drying import drying_of
from recycling.queries.quality.states import judged_with, state_of
from recycling.records.actors import Actor
from recycling.records.lots.lots import LotRecord
from recycling.records.quality.checks import FilamentRow, LotChecks, ParticlesRow, SettingInForce
from recycling.records.quality.declared import CHECKED_FORMS, ProductState
from recycling.stages import DRYING, MAKING_FILAMENT, stage
from shared.measured import RECTANGULAR, Measured, Source


def lot_checks(actor: Actor, code: str) -> LotChecks:
    """Show all that was checked of a lot at the stages.

    Raises
    ------
    Unknown
        When there is no such lot.
    """
    lot = lot_of(actor, code)
    return LotChecks(
        lot=lot.code,
        form=lot.form,
        polymer=lot.polymer,
        particles=_particles(lot, Names(actor.workshop_id)),
        drying=drying_of(actor.workshop_id, lot) if lot.made_by.stage in DRYING else None,
        filament=filament_of(lot),
        state=state_of(lot),
        settings=settings_in_force(lot) if lot.form == "filament" else (),
    )


def spool_judged(actor: Actor, lot: LotRecord) -> tuple[FilamentRow | None, ProductState | None]:
    """Say what is known of a spool's filament, and whether the product is good.

    No filament for a lot that is no spool, no state for one that is no product.
    """
    rows = list(
        FilamentReading.objects.filter(
            lot__workshop_id=actor.workshop_id, lot__code=lot.code
        ).order_by("measured_at", "pk")
        if lot.form in CHECKED_FORMS
        else ()
    )
    state, density = judged_with(actor.workshop_id, lot.code, lot.form, lot.role, rows)
    if lot.spool is None:
        return None, state
    spool = Spooled(
        lot.made_mg,
        lot.mass_mg,
        lot.spool.diameter_mm,
        lot.spool.tolerance_mm,
        lot.spool.length_m,
        density,
    )
    return _filament(spool, rows), state


@dataclass(frozen=True)
class Spooled:
    """A spool as its filament's figures need it."""

    made_mg: int
    mass_mg: int
    diameter_mm: float
    tolerance_mm: float | None
    length_m: float | None
    density: float | None


def _density(workshop_id: int, polymer: str) -> float | None:
    rows = Polymer.objects.filter(workshop_id=workshop_id, code=polymer)
    return rows.values_list("density_g_cm3", flat=True).first()


def _particles(lot: Lot, names: Names) -> tuple[ParticlesRow, ...]:
    found = []
    for row in lot.particle_samples.order_by("-measured_at", "-pk"):
        check = size_check(row.sizes_mm, row.limit_mm, row.allowed)
        sure = 0 < row.allowed < 1 and not check.sure
        found.append(
            ParticlesRow(
                measured=check.measured,
                above=check.above,
                limit_mm=row.limit_mm,
                allowed=row.allowed,
                share=check.share,
                low=check.low,
                high=check.high,
                decision=check.decision,
                sure=check.sure,
                needed=particles_to_be_sure(row.allowed) if sure else None,
                measured_at=row.measured_at,
                by=names.of(row.actor),
            )
        )
    return tuple(found)


def filament_of(lot: Lot, mass_mg: int | None = None) -> FilamentRow | None:
    """Show what is known of a spool's filament; `mass_mg` is left of it, else what is on hand."""
    if not hasattr(lot, "spool"):
        return None
    spool = Spooled(
        lot.made_mg,
        lot.account.balance_mg if mass_mg is None else mass_mg,
        lot.spool.diameter_mm,
        lot.spool.tolerance_mm,
        lot.spool.length_m,
        _density(lot.workshop_id, lot.polymer),
    )
    return _filament(spool, list(lot.filament_readings.order_by("measured_at", "pk")))


def _filament(spool: Spooled, rows: list[FilamentReading]) -> FilamentRow:
    readings = [d for row in rows for d in (*row.first_mm, *row.second_mm)]
    pairs = [pair for row in rows for pair in zip(row.first_mm, row.second_mm, strict=False)]
    lengths = [row.length_m for row in rows if row.length_m]
    nominal, tolerance, density = spool.diameter_mm, spool.tolerance_mm, spool.density
    check = thread.diameter_check(readings, nominal, tolerance or 0.0) if readings else None
    mean_mm = check.mean_mm if check else nominal
    made_g, measured_m = spool.made_mg / 1000, lengths[-1] if lengths else spool.length_m
    left = _metres_left(spool, mean_mm, check)
    implied_mm = None
    if measured_m and density and made_g:
        implied_mm = thread.implied_diameter_mm(made_g, measured_m, density)
    return FilamentRow(
        readings=len(readings),
        mean_mm=check.mean_mm if check else None,
        sd_mm=check.sd_mm if check else None,
        smallest_mm=check.smallest_mm if check else None,
        largest_mm=check.largest_mm if check else None,
        nominal_mm=nominal,
        tolerance_mm=tolerance,
        outside=len(check.outside) if check and tolerance is not None else 0,
        within=check.within if check and tolerance is not None else None,
        least_flow_percent=check.least_flow_percent if check else None,
        most_flow_percent=check.most_flow_percent if check else None,
        ovality_percent=max((thread.ovality_percent(*pair) for pair in pairs), default=None),
        density_g_cm3=density,
        length_by_mass_m=thread.length_m(made_g, mean_mm, density) if density else None,
        length_measured_m=measured_m,
        implied_mm=implied_mm,
        metres_left=left.value if left else None,
        u_metres_left=left.u if left else None,
        covered_metres=covered(left) if left else None,
    )


def _metres_left(
    spool: Spooled, mean_mm: float, check: thread.DiameterCheck | None
) -> Measured | None:
    """Length left by the mass on hand; without readings the tolerance tells how sure it is."""
    if not spool.density:
        return None
    if check and check.sd_mm is not None:
        scatter = Source("diameter", 0, freedom=check.readings - 1)
        parts = {scatter: check.sd_mm / math.sqrt(check.readings)}
    else:
        tolerance = Source("tolerance", "", RECTANGULAR)
        parts = {tolerance: (spool.tolerance_mm or 0.0) / math.sqrt(3)}
    diameter = Measured.of(mean_mm, parts)
    net_g, density = Measured(spool.mass_mg / 1000), Measured(spool.density)
    return thread.metres_left(net_g, Measured(0.0), diameter, density)


def settings_in_force(lot: Lot) -> tuple[SettingInForce, ...]:
    """List the settings in force while filament was made; they follow from a log never edited.

    Filament that was wound from other lots keeps the settings of the extrusions behind them.
    """
    found: list[SettingInForce] = []
    for one in _extruded(lot):
        since, until = _winding(one)
        found += _in_force(one.made_by, since, until)
    return tuple(found)


def _extruded(lot: Lot) -> list[Lot]:
    """Walk from filament to the lots of filament that came out of an extruder."""
    waiting, seen, found = [lot], {lot.pk}, []
    while waiting:
        one = waiting.pop()
        if one.made_by.stage in MAKING_FILAMENT:
            found.append(one)
            continue
        drawn = Lot.objects.filter(
            draws__run_id=one.made_by_id, draws__mass_mg__gt=0, form="filament"
        ).select_related("made_by")
        fresh = [other for other in drawn if other.pk not in seen]
        seen |= {other.pk for other in fresh}
        waiting += fresh
    return sorted(found, key=lambda one: one.number)


def _winding(lot: Lot) -> tuple[datetime, datetime]:
    """Say from when to when a lot was being made: since the output before it, or the start."""
    run = lot.made_by
    rows = Posting.objects.filter(
        entry__process_id=run.pk, account__lot__form="filament", mass_mg__gt=0
    ).order_by("entry__happened_at", "pk")
    times = dict(rows.values_list("account_id", "entry__happened_at"))
    until = times.get(lot.pk, run.ended_at or timezone.now())
    before = [moment for moment in times.values() if moment < until]
    return max(before, default=run.started_at), until


def _in_force(run: Run, since: datetime, until: datetime) -> Iterable[SettingInForce]:
    declared = stage(run.stage)
    rows = RunSetting.objects.filter(run=run, happened_at__lte=until)
    last: dict[str, RunSetting] = {}
    for row in rows.order_by("happened_at", "pk"):
        last[row.key] = row
    for field in declared.settings if declared else ():
        if field.key in last:
            row = last[field.key]
            changed = since < row.happened_at
            yield SettingInForce(
                run.code, field.label, row.value, field.unit, row.happened_at, changed
            )
