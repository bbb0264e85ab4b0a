"""What a stage did in a period, with its energy."""

from __future__ import annotations

from dataclasses import dataclass, replace

from recycling.records.balance import StageBalance
from recycling.records.energy import RunEnergyRecord


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
