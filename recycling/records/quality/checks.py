"""What was checked at the stages: particles, drying, filament, settings, earlier runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from recycling.records.balance.covered import Covered
from recycling.records.process.drying import DryingRow
from recycling.records.quality.declared import ProductState


@dataclass(frozen=True)
class ParticlesRow:
    """A sample of particles and what it says.

    Attributes
    ----------
    measured, above : int
        Particles measured, and those above the limit.
    limit_mm, allowed, share, low, high : float
        The limit, the share allowed above it, the share seen and its 95 % interval.
    decision : str
        "feed" or "run again".
    sure : bool
        Whether the whole interval is on the decision's side.
    needed : int or None
        Particles that with none above the limit would make sure; None where that cannot be.
    measured_at : datetime
        When.
    by : str
        Who measured.
    """

    measured: int
    above: int
    limit_mm: float
    allowed: float
    share: float
    low: float
    high: float
    decision: str
    sure: bool
    needed: int | None
    measured_at: datetime
    by: str


@dataclass(frozen=True)
class FilamentRow:
    """What is known of a spool's filament.

    Attributes
    ----------
    readings : int
        Diameters read, along both axes together.
    mean_mm, sd_mm, smallest_mm, largest_mm : float or None
        Of them.
    nominal_mm, tolerance_mm : float, float or None
        What it should be.
    outside : int
        Readings outside the tolerance.
    within : bool or None
        Whether all are within; None without a tolerance or readings.
    least_flow_percent, most_flow_percent : float or None
        Flow errors at the smallest and the largest diameter.
    ovality_percent : float or None
        The largest, from two axes.
    density_g_cm3 : float or None
        Of the polymer.
    length_by_mass_m, length_measured_m, implied_mm : float or None
        Length that the mass as made says, the one that was measured, and the mean diameter that
        mass and measured length imply.
    metres_left, u_metres_left : float or None
        Length that is left by the mass on hand, with its standard uncertainty.
    covered_metres : Covered or None
        What covers 95 % of the truths of that, m.
    """

    readings: int
    mean_mm: float | None
    sd_mm: float | None
    smallest_mm: float | None
    largest_mm: float | None
    nominal_mm: float
    tolerance_mm: float | None
    outside: int
    within: bool | None
    least_flow_percent: float | None
    most_flow_percent: float | None
    ovality_percent: float | None
    density_g_cm3: float | None
    length_by_mass_m: float | None
    length_measured_m: float | None
    implied_mm: float | None
    metres_left: float | None
    u_metres_left: float | None
    covered_metres: Covered | None


@dataclass(frozen=True)
class LotChecks:
    """All that was checked of a lot.

    Attributes
    ----------
    lot, form, polymer : str
        Its code, form and polymer.
    particles : tuple of ParticlesRow
        Samples, newest first.
    drying : DryingRow or None
        Where it was dried.
    filament : FilamentRow or None
        Where it is a spool.
    settings : tuple of SettingInForce
        For a spool: what was in force while it was wound.
    state : ProductState or None
        For a product: whether it is good by the checks that are declared for it.
    """

    lot: str
    form: str
    polymer: str
    particles: tuple[ParticlesRow, ...]
    drying: DryingRow | None
    filament: FilamentRow | None
    settings: tuple[SettingInForce, ...]
    state: ProductState | None = None


@dataclass(frozen=True)
class SettingInForce:
    """A setting that was in force while a spool was wound.

    Attributes
    ----------
    run, label, value, unit : str
        The run, the setting, its value and unit.
    since : datetime
        When it was set.
    changed : bool
        Whether it was set while the spool was being made.
    """

    run: str
    label: str
    value: str
    unit: str
    since: datetime
    changed: bool
