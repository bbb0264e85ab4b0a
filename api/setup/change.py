"""One thing that entries refer to: read with its tag, changed, retired and brought back."""

from __future__ import annotations

from api.protocol.requests import Door, records, shows
from recycling.queries.setup import register as query
from recycling.records.actors import Actor
from recycling.records.setup.changes import (
    ContainerChange,
    MachineChange,
    MemberChange,
    ProgrammeChange,
    ScaleChange,
    SourceChange,
    WorkshopChange,
)
from recycling.records.setup.register import (
    ContainerRecord,
    MachineRecord,
    MemberRecord,
    ProgrammeRecord,
    ScaleRecord,
    SourceRecord,
    WorkshopRecord,
)
from recycling.services.people import members as people
from recycling.services.setup import change as service


class Changing(Door):
    http_method_names = ["get", "head", "patch"]


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


class WorkshopApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(WorkshopRecord, tagged=True)
    def get(self, actor: Actor) -> WorkshopRecord:
        """Show the workshop itself."""
        return query.workshop(actor)

    @records(WorkshopChange, WorkshopRecord, 200, guard=query.workshop)
    def patch(self, actor: Actor, change: WorkshopChange) -> WorkshopRecord:
        """Change what the workshop is called, and its time zone."""
        return service.workshop_change(actor, change)


class MemberApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(MemberRecord, tagged=True)
    def get(self, actor: Actor, member: int) -> MemberRecord:
        """Show a member."""
        return query.member(actor, member)

    @records(MemberChange, MemberRecord, 200, guard=query.member)
    def patch(self, actor: Actor, change: MemberChange, member: int) -> MemberRecord:
        """Give a member another role, let one go, or take one in again."""
        return people.member_change(actor, member, change)
