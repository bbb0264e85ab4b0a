"""What a stage did in a period, with its energy.

Energy of a period, and the straight line through a stage's weeks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from recycling.calc.balance.coverage import student_factor
from recycling.records.balance.balance import StageBalance
from recycling.records.energy.figures import RunEnergyRecord, StageEnergy


@dataclass(frozen=True)
class StageWithEnergy(StageBalance):
    """What a stage did in a period, over its closed runs that ended in it, with its energy.

    Attributes
    ----------
    energy_kwh : float or None
        Energy of the runs that a log speaks of, their share of warm-up, purge and standby
        included; None where none does.
    kwh_per_kg : float or None
        The same for each kilogram of their product.
    energy_coverage : float or None
        Share of the runs' time that logs cover, from 0 to 1; None for a stage without machines.
    """

    energy_kwh: float | None = None
    kwh_per_kg: float | None = None
    energy_coverage: float | None = None


@dataclass(frozen=True)
class RunPart:
    """What of a run is one giver's.

    Attributes
    ----------
    share : float
        Of its energy: by mass, the giver's part of all that the run was fed.
    product_mg : int
        Of its product.
    """

    share: float
    product_mg: int

    def of(self, run: RunEnergyRecord) -> RunEnergyRecord:
        """Give that part of a run's energy; the time that logs cover is the run's own."""
        product = self.product_mg / run.product_mg if run.product_mg else 0.0

        def part(figure: float | None) -> float | None:
            return None if figure is None else figure * self.share

        return replace(
            run,
            own_kwh=run.own_kwh * self.share,
            overhead_kwh=run.overhead_kwh * self.share,
            overhead=tuple(replace(one, kwh=one.kwh * self.share) for one in run.overhead),
            least_kwh=part(run.least_kwh),
            most_kwh=part(run.most_kwh),
            product_mg=self.product_mg,
            minimum_kwh=part(run.minimum_kwh),
            cost=part(run.cost),
            carbon_kg=part(run.carbon_kg),
            u_kwh=run.u_kwh * self.share,
            u_common_kwh=run.u_common_kwh * self.share,
            u_product_mg=run.u_product_mg * product,
        )


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

    @property
    def half_base_kwh(self) -> float:
        """Half-interval that covers 95 % of the truths of the base, kWh; zero without a line."""
        return (self.u_base_kwh or 0.0) * self._factor

    @property
    def half_slope_kwh_per_kg(self) -> float:
        """Half-interval that covers 95 % of the truths of the slope, kWh/kg."""
        return (self.u_slope_kwh_per_kg or 0.0) * self._factor

    @property
    def _factor(self) -> float:
        """Student's factor; a line through n weeks leaves n − 2 degrees of freedom."""
        return student_factor(len(self.points) - 2) if len(self.points) > 2 else 0.0


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
