"""How the workshop works: its limits, windows, recipes and hold-ups, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from api.protocol.asking import choice
from api.protocol.requests import Door, lists, records
from recycling.queries.setup.practice import materials, practices, windows
from recycling.records.actors import Actor
from recycling.records.setup.machines import BarrelRow, MeterRow
from recycling.records.setup.practice import (
    MATERIAL_FIELDS,
    BarrelEntry,
    MaterialEntry,
    MaterialRow,
    MeterEntry,
    PracticeEntry,
    PracticeRow,
    WindowEntry,
    WindowRow,
)
from recycling.services.setup.practice import (
    barrel_set,
    material_set,
    meter_set,
    practice_set,
    window_set,
)

KIND = choice("kind", "Which set of numbers.", tuple(MATERIAL_FIELDS))


@dataclass(frozen=True)
class BarrelBody:
    """Hold-up of a machine's barrel.

    Attributes
    ----------
    holdup_g, plug_share : float
        Mass of melt in it, and the share of it that moves as a plug.
    tanks : int
        Stirred tanks that stand for the rest.
    source : str
        Where it comes from.
    """

    holdup_g: float
    source: str
    plug_share: float = 0.0
    tanks: int = 1


@dataclass(frozen=True)
class MeterBody:
    """How sure a machine's energy meter is.

    Attributes
    ----------
    source : str
        Where both stand.
    step_kwh : float or None
        Step of its counter, kWh; left out, the last digit of its readings.
    class_percent : float or None
        Limit of error in percent of what it counts: 1 for class 1; left out where nobody knows.
    """

    source: str
    step_kwh: float | None = None
    class_percent: float | None = None


class PracticeApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(PracticeRow)
    def get(self, actor: Actor) -> list[PracticeRow]:
        """List the limits and habits that hold now, with their source."""
        return practices(actor)

    @records(PracticeEntry, PracticeRow)
    def post(self, actor: Actor, entry: PracticeEntry) -> PracticeRow:
        """Change a limit or habit; it holds from now on, and what held before is kept."""
        key = practice_set(actor, entry)
        return next(one for one in practices(actor) if one.key == key)


class PracticeWindowsApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(WindowRow)
    def get(self, actor: Actor) -> list[WindowRow]:
        """List the processing windows of polymers and purge compounds that hold now."""
        return windows(actor)

    @records(WindowEntry, WindowRow)
    def post(self, actor: Actor, entry: WindowEntry) -> WindowRow:
        """Set the processing window of a polymer or a purge compound."""
        material = window_set(actor, entry)
        return next(one for one in windows(actor) if one.material == material)


class PracticeMaterialsApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(MaterialRow, KIND)
    def get(self, actor: Actor, kind: str = "") -> list[MaterialRow]:
        """List drying recipes and properties of polymers that hold now."""
        kinds = (kind,) if kind else MATERIAL_FIELDS
        return [row for one in kinds for row in materials(actor, one)]

    @records(MaterialEntry, MaterialRow)
    def post(self, actor: Actor, entry: MaterialEntry) -> MaterialRow:
        """Set a drying recipe, or the properties of a polymer that estimates rest on."""
        polymer = material_set(actor, entry)
        return next(one for one in materials(actor, entry.kind) if one.polymer == polymer)


class MachineMeterApi(Door):
    needs = {"POST": "record"}

    @records(MeterBody, MeterRow)
    def post(self, actor: Actor, body: MeterBody, machine: int) -> MeterRow:
        """Say how sure a machine's energy meter is; the ± of its energy follows from it."""
        meter_set(actor, MeterEntry(machine, **vars(body)))
        return MeterRow(machine, body.step_kwh, body.class_percent, body.source.strip())


class MachineBarrelApi(Door):
    needs = {"POST": "record"}

    @records(BarrelBody, BarrelRow)
    def post(self, actor: Actor, body: BarrelBody, machine: int) -> BarrelRow:
        """Set the hold-up of a machine's barrel; plans from now on use it."""
        barrel_set(actor, BarrelEntry(machine, **vars(body)))
        return BarrelRow(body.holdup_g, body.plug_share, body.tanks, body.source.strip())
