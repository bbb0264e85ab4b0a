"""What entries refer to: sources, programmes, machines, scales, containers, polymers, members."""

from __future__ import annotations

from dataclasses import asdict

from api.protocol.requests import Door, lists, records
from recycling.queries.setup import register as query
from recycling.records.actors import Actor
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    PolymerEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)
from recycling.records.setup.register import (
    ContainerRecord,
    MachineRecord,
    PolymerRecord,
    ProgrammeRecord,
    ScaleRecord,
    SourceRecord,
)
from recycling.services.setup import register as service


class SourcesApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(SourceRecord)
    def get(self, actor: Actor) -> list[SourceRecord]:
        """List those who give."""
        return query.sources(actor)

    @records(SourceEntry, SourceRecord)
    def post(self, actor: Actor, entry: SourceEntry) -> SourceRecord:
        """Add somebody who gives."""
        return SourceRecord(service.source_add(actor, entry), **asdict(entry))


class ProgrammesApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(ProgrammeRecord)
    def get(self, actor: Actor) -> list[ProgrammeRecord]:
        """List grants, school projects and targets."""
        return query.programmes(actor)

    @records(ProgrammeEntry, ProgrammeRecord)
    def post(self, actor: Actor, entry: ProgrammeEntry) -> ProgrammeRecord:
        """Add a grant, school project or target."""
        return ProgrammeRecord(service.programme_add(actor, entry), **asdict(entry))


class MachinesApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(MachineRecord)
    def get(self, actor: Actor) -> list[MachineRecord]:
        """List machines in use, with what is in them."""
        return query.machines(actor)

    @records(MachineEntry, MachineRecord)
    def post(self, actor: Actor, entry: MachineEntry) -> MachineRecord:
        """Add a machine."""
        return MachineRecord(service.machine_add(actor, entry), **asdict(entry), heel="")


class ScalesApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(ScaleRecord)
    def get(self, actor: Actor) -> list[ScaleRecord]:
        """List scales."""
        return query.scales(actor)

    @records(ScaleEntry, ScaleRecord)
    def post(self, actor: Actor, entry: ScaleEntry) -> ScaleRecord:
        """Add a scale, as on its plate."""
        return ScaleRecord(service.scale_add(actor, entry), **asdict(entry))


class ContainersApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(ContainerRecord)
    def get(self, actor: Actor) -> list[ContainerRecord]:
        """List containers with their tares."""
        return query.containers(actor)

    @records(ContainerEntry, ContainerRecord)
    def post(self, actor: Actor, entry: ContainerEntry) -> ContainerRecord:
        """Add a container with its tare."""
        return ContainerRecord(service.container_add(actor, entry), **asdict(entry))


class PolymersApi(Door):
    needs = {"GET": "read", "POST": "manage"}

    @lists(PolymerRecord)
    def get(self, actor: Actor) -> list[PolymerRecord]:
        """List polymers."""
        return query.polymers(actor)

    @records(PolymerEntry, PolymerRecord)
    def post(self, actor: Actor, entry: PolymerEntry) -> PolymerRecord:
        """Add a polymer."""
        return PolymerRecord(service.polymer_add(actor, entry), **asdict(entry))
