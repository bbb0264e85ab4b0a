"""Energy: values of meters and plugs in bulk, and what runs, lots and stages took."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from api.protocol.asking import PERIOD, POLYMER, STAGE
from api.protocol.bodies import Confirming
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.energy.lots import lot_energy
from recycling.queries.energy.prices import factors, tariffs
from recycling.queries.energy.stages import runs_energy, stages_energy, stages_with_energy
from recycling.records.actors import Actor
from recycling.records.energy.entries import FactorEntry, ReadingsEntry, ReadingsKept, TariffEntry
from recycling.records.energy.figures import LotEnergy, RunEnergyRecord, StageEnergy
from recycling.records.energy.stages import StageWithEnergy
from recycling.records.setup.machines import FactorRow, TariffRow
from recycling.services.energy.prices import factor_add, tariff_add
from recycling.services.energy.readings import readings_keep


@dataclass(frozen=True)
class ReadingsBody(ReadingsEntry, Confirming):
    """Values of one machine, in bulk.

    Attributes
    ----------
    machine : str
        Name or id of the machine.
    kind : str
        "counter" for readings of a meter in kWh, "power" for samples in W.
    readings : tuple of ReadingSent
        The values, each time once.
    max_gap_s : float
        Of power: longest time between two samples that still counts as covered, s.
    """


class EnergyReadingsApi(Door):
    needs = {"POST": "record"}

    @records(ReadingsBody, ReadingsKept)
    def post(self, actor: Actor, entry: ReadingsBody) -> ReadingsKept:
        """Keep readings of a machine's counter, or samples of its power; what is known stays."""
        return readings_keep(actor, entry)


class EnergyRunsApi(Door):
    needs = {"GET": "read"}

    @lists(RunEnergyRecord, *PERIOD, STAGE, POLYMER)
    def get(self, actor: Actor, **asked: Any) -> list[RunEnergyRecord]:
        """List the energy of the runs on machines that ended in a period."""
        return runs_energy(actor, **asked)


class EnergyStagesApi(Door):
    needs = {"GET": "read"}

    @lists(StageEnergy, *PERIOD, POLYMER)
    def get(self, actor: Actor, **asked: Any) -> list[StageEnergy]:
        """Add up the energy of each stage over its closed runs that ended in a period."""
        return stages_energy(actor, **asked)


class LotEnergyApi(Door):
    needs = {"GET": "read"}

    @shows(LotEnergy, rows_of=lambda energy: energy.steps)
    def get(self, actor: Actor, code: str) -> LotEnergy:
        """Show the energy that a lot carries from all that was spent on what went into it."""
        return lot_energy(actor, code)


class EnergyTariffsApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(TariffRow)
    def get(self, actor: Actor) -> list[TariffRow]:
        """List prices of electricity, the newest first."""
        return tariffs(actor)

    @records(TariffEntry, TariffRow)
    def post(self, actor: Actor, entry: TariffEntry) -> TariffRow:
        """Enter a price of electricity; costs are only shown from the day it holds."""
        added = tariff_add(actor, entry)
        return next(one for one in tariffs(actor) if one.id == added)


class EnergyFactorsApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(FactorRow)
    def get(self, actor: Actor) -> list[FactorRow]:
        """List carbon factors of electricity, the newest first."""
        return factors(actor)

    @records(FactorEntry, FactorRow)
    def post(self, actor: Actor, entry: FactorEntry) -> FactorRow:
        """Enter the carbon of a unit of electricity as its publisher states it."""
        added = factor_add(actor, entry)
        return next(one for one in factors(actor) if one.id == added)


class BalanceStagesApi(Door):
    needs = {"GET": "read"}

    @lists(StageWithEnergy, *PERIOD, POLYMER)
    def get(self, actor: Actor, **asked: Any) -> list[StageWithEnergy]:
        """Add up what each stage took, gave and lost in a period, with its energy."""
        return stages_with_energy(actor, **asked)
