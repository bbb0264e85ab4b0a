"""Energy of a period, and the straight line through a stage's weeks."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.records.energy import StageEnergy


@dataclass(frozen=True)
class BaseLoadPoint:
    """A week of a stage: product in kg and energy in kWh.

    Attributes
    ----------
    week : str
        ISO year and week.
    mass_kg, kwh : float
        Product and energy.
    """

    week: str
    mass_kg: float
    kwh: float


@dataclass(frozen=True)
class BaseLoadRecord:
    """The straight line through a stage's weeks: what it draws anyway, and what a kilogram adds.

    Attributes
    ----------
    stage : str
        The stage.
    points : tuple of BaseLoadPoint
        Weeks that count.
    left_out : int
        Weeks with runs that no log covers well enough.
    base_kwh, u_base_kwh, slope_kwh_per_kg, u_slope_kwh_per_kg, r_squared : float or None
        The line with standard uncertainties; None where too few weeks tell.
    why_not : str
        Why there is no line.
    """

    stage: str
    points: tuple[BaseLoadPoint, ...]
    left_out: int
    base_kwh: float | None = None
    u_base_kwh: float | None = None
    slope_kwh_per_kg: float | None = None
    u_slope_kwh_per_kg: float | None = None
    r_squared: float | None = None
    why_not: str = ""


@dataclass(frozen=True)
class PeriodEnergy:
    """Energy of a period.

    Attributes
    ----------
    stages : tuple of StageEnergy
        Each stage with runs on machines.
    stage, line : str, BaseLoadRecord or None
        The stage whose weeks are looked at, and the line through them.
    """

    stages: tuple[StageEnergy, ...]
    stage: str
    line: BaseLoadRecord | None
