"""One thing that entries refer to: read with its tag, changed, retired and brought back."""

from __future__ import annotations

from api.protocol.bodies import NothingBody
from api.protocol.requests import Changing, Door, records, shows
from recycling.queries.setup import register as query
from recycling.records.actors import Actor
from recycling.records.setup.changes import (
    ContainerChange,
    MachineChange,
    ProgrammeChange,
    ScaleChange,
    SourceChange,
)
from recycling.records.setup.register import (
    ContainerRecord,
    MachineRecord,
    ProgrammeRecord,
    ScaleRecord,
    SourceRecord,
)
from recycling.services.people.erasures import source_erase
from recycling.services.setup import change as service


class SourceApi(Changing):
    needs = {"GET": "read", "PATCH": "record"}

    @shows(SourceRecord, tagged=True)
    def get(self, actor: Actor, source: int) -> SourceRecord:
        """Show who gives."""
        return query.source(actor, source)

    @records(SourceChange, SourceRecord, 200, guard=query.source)
    def patch(self, actor: Actor, change: SourceChange, source: int) -> SourceRecord:
        """Change, retire or bring back somebody who gives."""
        return service.source_change(actor, source, change)


class SourceErasureApi(Door):
    needs = {"POST": "manage"}

    @records(NothingBody, SourceRecord, status=200)
    def post(self, actor: Actor, body: NothingBody, source: int) -> SourceRecord:
        """Erase who gave: name, note and consent; a number stays."""
        return source_erase(actor, source)


class ProgrammeApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(ProgrammeRecord, tagged=True)
    def get(self, actor: Actor, programme: int) -> ProgrammeRecord:
        """Show a grant, school project or target."""
        return query.programme(actor, programme)

    @records(ProgrammeChange, ProgrammeRecord, 200, guard=query.programme)
    def patch(self, actor: Actor, change: ProgrammeChange, programme: int) -> ProgrammeRecord:
        """Change, retire or bring back a programme."""
        return service.programme_change(actor, programme, change)


class MachineDetailsApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(MachineRecord, tagged=True)
    def get(self, actor: Actor, machine: int) -> MachineRecord:
        """Show how a machine is set up."""
        return query.machine(actor, machine)

    @records(MachineChange, MachineRecord, 200, guard=query.machine)
    def patch(self, actor: Actor, change: MachineChange, machine: int) -> MachineRecord:
        """Change, retire or bring back a machine."""
        return service.machine_change(actor, machine, change)


class ScaleApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(ScaleRecord, tagged=True)
    def get(self, actor: Actor, scale: int) -> ScaleRecord:
        """Show a scale."""
        return query.scale(actor, scale)

    @records(ScaleChange, ScaleRecord, 200, guard=query.scale)
    def patch(self, actor: Actor, change: ScaleChange, scale: int) -> ScaleRecord:
        """Change, retire or bring back a scale."""
        return service.scale_change(actor, scale, change)


class ContainerApi(Changing):
    needs = {"GET": "read", "PATCH": "record"}

    @shows(ContainerRecord, tagged=True)
    def get(self, actor: Actor, container: int) -> ContainerRecord:
        """Show a container."""
        return query.container(actor, container)

    @records(ContainerChange, ContainerRecord, 200, guard=query.container)
    def patch(self, actor: Actor, change: ContainerChange, container: int) -> ContainerRecord:
        """Change, retire or bring back a container."""
        return service.container_change(actor, container, change)
