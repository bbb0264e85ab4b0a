"""What was checked at the stages: particles, drying, filament, settings, earlier runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


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
class OpenRow:
    """How long a lot was open to the air until it was fed, or until now.

    Attributes
    ----------
    run : str
        The run it was fed to; empty for now.
    until : datetime
        When.
    open_h, limit_h : float
        Hours open, and the limit.
    within : bool
        Whether the limit was kept.
    """

    run: str
    until: datetime
    open_h: float
    limit_h: float
    within: bool


@dataclass(frozen=True)
class DryingRow:
    """How a lot was dried.

    Attributes
    ----------
    run, polymer, recipe, recipe_source, temperature_source : str
        The run, the polymer, the recipe in words and its source, and where the temperatures are
        from: "real", "set" or "typed".
    at_temperature_h, missing_h, too_hot_h : float or None
        Time within the recipe's temperatures, what is missing, and the time above them; None
        where nothing was logged or there is no recipe.
    dry_enough : bool or None
        Whether it was long enough.
    open : tuple of OpenRow
        Time open, for each time it was fed and for what is left now.
    moisture_percent : float or None
        Estimate of the moisture that is left, percent.
    moisture_measured : bool
        Whether it was measured after all.
    viscosity_loss, viscosity_before : float or None
        Estimate of the most that hydrolysis can cost, and what it is taken from, dL/g.
    estimate_source : str
        Where the numbers behind the estimates are from.
    """

    run: str
    polymer: str
    recipe: str
    recipe_source: str
    temperature_source: str
    at_temperature_h: float | None
    missing_h: float | None
    too_hot_h: float | None
    dry_enough: bool | None
    open: tuple[OpenRow, ...]
    moisture_percent: float | None
    moisture_measured: bool
    viscosity_loss: float | None
    viscosity_before: float | None
    estimate_source: str


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


@dataclass(frozen=True)
class ClosestRun:
    """An earlier run of like material.

    Attributes
    ----------
    run : str
        Its code.
    ended_at : datetime
        When it ended.
    likeness : float
        Share of the material that has the same sources, from 0 to 1.
    settings : str
        Its settings as they were at its end.
    stage_yield : float or None
        Product over what it drew.
    good, bad : int
        Spools of it that printed well, and badly.
    """

    run: str
    ended_at: datetime
    likeness: float
    settings: str
    stage_yield: float | None
    good: int
    bad: int


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
    """

    lot: str
    form: str
    polymer: str
    particles: tuple[ParticlesRow, ...]
    drying: DryingRow | None
    filament: FilamentRow | None
    settings: tuple[SettingInForce, ...]


@dataclass(frozen=True)
class Wait:
    """The wait after the last change of a setting.

    Attributes
    ----------
    label, value, unit, source : str
        What was changed, to what, and where the length of the wait is from.
    changed_at, until_at : datetime
        When, and until when to wait before the next change.
    minutes : float
        How long.
    over : bool
        Whether it is over.
    """

    label: str
    value: str
    unit: str
    source: str
    changed_at: datetime
    until_at: datetime
    minutes: float
    over: bool
