"""A workshop with a dryer and an extruder, and runs on them at known hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest

from recycling.queries.energy.machines import machine_page
from recycling.queries.setup.register import machines
from recycling.records.actors import Actor
from recycling.records.energy.entries import PartEntry, ReadingEntry, TimeEntry
from recycling.records.lots.mass_entries import (
    DrawEntry,
    HeelEntry,
    LossEntry,
    OutputEntry,
    SpoolEntry,
)
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.runs.entries import CheckEntry, RunEntry, SettingEntry
from recycling.services.energy.notes import part_add, part_time_add, reading_add
from recycling.services.runs.run_record import run_record
from tests.factories import KG, START, MachineFactory, OriginFactory, WorkshopFactory

HOUR = timedelta(hours=1)


def at(hours: float) -> datetime:
    return START + hours * HOUR


@dataclass
class Shop:
    """A workshop and what its tests do in it."""

    actor: Actor

    def machine(self, name: str) -> int:
        return next(one.id for one in machines(self.actor) if one.name == name)

    def part(self, machine: str, name: str, rated_w: float, duty_percent: float = 100) -> int:
        machine_id = self.machine(machine)
        part_add(self.actor, PartEntry(machine_id, name, "heater", rated_w, duty_percent))
        parts = machine_page(self.actor, machine_id).parts
        return next(one.part for one in parts if one.name == name)

    def on(self, part: int, start: float, end: float) -> None:
        part_time_add(self.actor, TimeEntry(part, at(start), at(end)))

    def reading(self, machine: str, hours: float, kwh: float, reset: bool = False) -> None:
        reading_add(self.actor, ReadingEntry(self.machine(machine), kwh, at(hours), reset))

    def bag(self, form: str = "flake", mass_mg: int = 10 * KG, polymer: str = "PET") -> str:
        bags = (BagEntry(mass_mg, form=form, polymer=polymer),)
        return OriginFactory(actor=self.actor, bags=bags).lots[0].code

    def dry(
        self, lot: str, start: float, end: float, mass_mg: int = KG, **more: object
    ) -> tuple[str, str]:
        """Dry a part of a lot; returns the run's and the lot's code."""
        water = int(more.pop("water_mg", 0))
        losses = (LossEntry("water", water, "by weight"),) if water else ()
        done = run_record(
            self.actor,
            RunEntry(
                "dry",
                at(start),
                at(end),
                machine="Oven",
                inputs=(DrawEntry(lot, mass_mg),),
                outputs=(OutputEntry("dried flake", mass_mg - water),),
                losses=losses,
                **more,
            ),
        )
        return done.code, done.lots[0].code

    def extrude(self, lot: str, start: float, end: float, mass_mg: int = KG, **more: object):
        """Extrude a part of a lot into one spool; returns what was recorded."""
        spool = OutputEntry("filament", mass_mg - 100_000, spool=SpoolEntry(tare_mg=200_000))
        return run_record(
            self.actor,
            RunEntry(
                "extrude",
                at(start),
                at(end),
                machine="Barrel one",
                inputs=(DrawEntry(lot, mass_mg), *more.pop("inputs", ())),
                outputs=(spool,),
                heel=HeelEntry(60_000, "PET"),
                **more,
            ),
        )


@pytest.fixture
def shop(db) -> Shop:
    actor = WorkshopFactory(zone="Europe/Berlin")
    MachineFactory(actor=actor, name="Oven", kind="dryer")
    MachineFactory(actor=actor, name="Barrel one", kind="extruder")
    return Shop(actor)


def noted(key: str, value: object, hours: float) -> CheckEntry:
    return CheckEntry(key, str(value), at(hours))


def setting(key: str, value: object, hours: float, seen: str = "") -> SettingEntry:
    return SettingEntry(key, str(value), at(hours), seen)
