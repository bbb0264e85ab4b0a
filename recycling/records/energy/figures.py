"""Energy as people and programs see it: of runs, lots, stages and machines."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.records.balance.covered import Covered


@dataclass(frozen=True)
class EnergySource:
    """What one source says of a run's own time.

    Attributes
    ----------
    method : str
        "meter reading", "power log" or "rated power".
    kwh : float
        Energy in the time it covers.
    coverage : float
        Share of the run's time that it covers.
    taken : bool
        Whether the run's energy is taken from it.
    """

    method: str
    kwh: float
    coverage: float
    taken: bool


@dataclass(frozen=True)
class PhaseEnergy:
    """A run's share of what its session spent outside runs.

    Attributes
    ----------
    phase : str
        "warm-up", "purge" or "standby".
    kwh : float
        The share, by mass.
    """

    phase: str
    kwh: float


@dataclass(frozen=True)
class RunEnergyRecord:
    """Energy of a run.

    Attributes
    ----------
    run, stage, machine : str
        Its code, stage and machine.
    own_kwh, overhead_kwh : float
        In its own time, and its share of warm-up, purge and standby.
    overhead : tuple of PhaseEnergy
        That share by phase.
    method : str
        Where it is from: "meter reading", "power log" or "rated power"; empty where no log speaks.
    covered_s, span_s : float
        How much of the run's time the log covers, and how long it is.
    least_kwh, most_kwh : float or None
        Of a meter's readings: what they allow for the run's own time.
    product_mg : int
        Mass of product.
    minimum_kwh : float or None
        What heating, melting and drying must at least have taken; None where that is not known.
    minimum_note : str
        What that minimum rests on.
    cost, cost_currency, cost_source : float or None, str, str
        Its cost, from a price the workshop entered.
    carbon_kg, carbon_source : float or None, str
        Its carbon, from a factor the workshop entered.
    sources : tuple of EnergySource
        What each source says.
    u_kwh, u_common_kwh : float
        Standard uncertainty of the energy, and the part of it that all figures of its log share.
    u_product_mg : float
        Standard uncertainty of the product's mass.
    u_basis, u_percent, u_source : str, float or None, str
        What the common part rests on: "class" of the meter, "no class" entered, or the "share" of
        rated power; its percent, and where that stands.
    covered, covered_per_kg : Covered or None
        What covers 95 % of the truths of the energy, kWh, and per kilogram, kWh/kg; None where
        there is none.
    """

    run: str
    stage: str
    machine: str
    own_kwh: float
    overhead_kwh: float
    overhead: tuple[PhaseEnergy, ...]
    method: str
    covered_s: float
    span_s: float
    least_kwh: float | None
    most_kwh: float | None
    product_mg: int
    minimum_kwh: float | None
    minimum_note: str
    cost: float | None
    cost_currency: str
    cost_source: str
    carbon_kg: float | None
    carbon_source: str
    sources: tuple[EnergySource, ...]
    u_kwh: float = 0.0
    u_common_kwh: float = 0.0
    u_product_mg: float = 0.0
    u_basis: str = ""
    u_percent: float | None = None
    u_source: str = ""
    covered: Covered | None = None
    covered_per_kg: Covered | None = None

    @property
    def kwh(self) -> float:
        """Own energy and share of the overhead together."""
        return self.own_kwh + self.overhead_kwh

    @property
    def coverage(self) -> float:
        """Share of the run's time that the log covers, from 0 to 1."""
        return self.covered_s / self.span_s if self.span_s else 0.0

    @property
    def kwh_per_kg(self) -> float | None:
        """Energy per kilogram of product; None without product or log."""
        if not self.product_mg or not self.method:
            return None
        return self.kwh / (self.product_mg / 1_000_000)

    @property
    def u_kwh_per_kg(self) -> float | None:
        """Standard uncertainty of the energy per kilogram; None where there is none."""
        return self.covered_per_kg.u if self.covered_per_kg else None

    @property
    def is_incomplete(self) -> bool:
        """Whether the log shows less than heat alone must have taken."""
        return bool(self.method) and self.minimum_kwh is not None and self.kwh < self.minimum_kwh


@dataclass(frozen=True)
class StageEnergy:
    """Energy of a stage over a period.

    Attributes
    ----------
    stage, title : str
        Its key and name.
    runs, runs_logged, runs_incomplete : int
        Runs that ended in the period, those that a log speaks of, and those whose log shows less
        than heat alone must have taken.
    kwh, overhead_kwh : float
        Energy of the logged runs, and how much of it is warm-up, purge and standby.
    product_mg, logged_product_mg : int
        Product of all runs, and of those that are logged.
    covered_s, span_s : float
        Time covered and time of all runs.
    cost, currency : float or None, str
        Cost of the runs that have a price, in its currency; None where several currencies meet.
    carbon_kg : float or None
        Carbon of the runs that have a factor.
    u_kwh, u_logged_product_mg : float
        Standard uncertainties of the energy and of the product of the logged runs.
    covered, covered_per_kg : Covered or None
        What covers 95 % of the truths of the energy, kWh, and per kilogram, kWh/kg; None where
        there is none.
    """

    stage: str
    title: str
    runs: int
    runs_logged: int
    runs_incomplete: int
    kwh: float
    overhead_kwh: float
    product_mg: int
    logged_product_mg: int
    covered_s: float
    span_s: float
    cost: float | None
    currency: str
    carbon_kg: float | None
    u_kwh: float = 0.0
    u_logged_product_mg: float = 0.0
    covered: Covered | None = None
    covered_per_kg: Covered | None = None

    @property
    def kwh_per_kg(self) -> float | None:
        """Energy per kilogram of product, over the logged runs; None where there is none."""
        if not self.logged_product_mg:
            return None
        return self.kwh / (self.logged_product_mg / 1_000_000)

    @property
    def u_kwh_per_kg(self) -> float | None:
        """Standard uncertainty of the energy per kilogram; None where there is none."""
        return self.covered_per_kg.u if self.covered_per_kg else None

    @property
    def coverage(self) -> float:
        """Share of the runs' time that logs cover, from 0 to 1."""
        return self.covered_s / self.span_s if self.span_s else 0.0


@dataclass(frozen=True)
class LotEnergyStep:
    """One run on the way of a lot.

    Attributes
    ----------
    run, stage, method : str
        The run, its stage, and where its energy is from; empty where no log speaks.
    kwh, u_kwh : float
        Its energy with its standard uncertainty.
    share : float
        Share of it that the lot carries, from 0 to 1.
    covered : Covered or None
        What covers 95 % of the truths of its energy, kWh.
    """

    run: str
    stage: str
    method: str
    kwh: float
    u_kwh: float = 0.0
    share: float = 1.0
    covered: Covered | None = None


@dataclass(frozen=True)
class LotEnergy:
    """Energy that a lot carries: of its own run, and of all that was done to what went in.

    Attributes
    ----------
    lot, form : str
        Its code and form.
    made_mg : int
        Its mass as made.
    kwh : float
        Energy it carries.
    steps : tuple of LotEnergyStep
        Every run on its way, in the order of work.
    unlogged : int
        Runs on machines among them of which no log speaks.
    carries : bool
        False for waste, which carries none.
    u_kwh, u_made_mg : float
        Standard uncertainties of the energy it carries and of its mass as made.
    covered, covered_per_kg : Covered or None
        What covers 95 % of the truths of the energy, kWh, and per kilogram, kWh/kg.
    """

    lot: str
    form: str
    made_mg: int
    kwh: float
    steps: tuple[LotEnergyStep, ...]
    unlogged: int
    carries: bool
    u_kwh: float = 0.0
    u_made_mg: float = 0.0
    covered: Covered | None = None
    covered_per_kg: Covered | None = None

    @property
    def kwh_per_kg(self) -> float | None:
        """Energy per kilogram of the lot as made."""
        return self.kwh / (self.made_mg / 1_000_000) if self.made_mg else None

    @property
    def u_kwh_per_kg(self) -> float | None:
        """Standard uncertainty of the energy per kilogram; None for a lot without mass."""
        return self.covered_per_kg.u if self.covered_per_kg else None
