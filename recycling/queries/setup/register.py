"""What entries refer to."""

from __future__ import annotations

from typing import TypeVar

from django.db.models import Model, OuterRef, QuerySet, Subquery

from recycling.models import (
    Container,
    Lot,
    Machine,
    Polymer,
    Programme,
    Scale,
    Source,
)
from recycling.queries.people.names import earlier_names
from recycling.records.actors import Actor
from recycling.records.people import EarlierNameRecord
from recycling.records.setup.register import (
    ContainerRecord,
    MachineRecord,
    PolymerRecord,
    ProgrammeRecord,
    ScaleRecord,
    SourceRecord,
)
from shared.errors import Unknown
from shared.said import say

Row = TypeVar("Row", bound=Model)


def _rows(model: type[Row], actor: Actor, everything: bool) -> QuerySet[Row]:
    """What is set up, by name: what is in use, or what was retired too."""
    rows = model._default_manager.filter(workshop_id=actor.workshop_id).order_by("name")
    return rows if everything else rows.filter(retired_at=None)


def _one(model: type[Row], actor: Actor, row_id: int, what: str) -> Row:
    row = model._default_manager.filter(workshop_id=actor.workshop_id, pk=row_id).first()
    if row is None:
        raise Unknown.because(
            f"{what}-unknown", say("There is no such {what} in this workshop.", what=what)
        )
    return row


def sources(actor: Actor, everything: bool = False) -> list[SourceRecord]:
    """List sources by name."""
    return [_source(row) for row in _rows(Source, actor, everything)]


def source(actor: Actor, source: int) -> SourceRecord:
    """Show one source; raises Unknown when there is none."""
    row = _one(Source, actor, source, "source")
    return _source(row, earlier_names(actor.workshop_id, f"source {row.pk}"))


def _source(row: Source, earlier: list[EarlierNameRecord] | None = None) -> SourceRecord:
    return SourceRecord(
        row.pk,
        row.name,
        row.kind,
        row.may_be_named,
        row.note,
        row.retired_at is not None,
        row.is_erased,
        earlier or [],
    )


def programmes(actor: Actor, everything: bool = False) -> list[ProgrammeRecord]:
    """List programmes by name."""
    return [_programme(row) for row in _rows(Programme, actor, everything)]


def programme(actor: Actor, programme: int) -> ProgrammeRecord:
    """Show one programme; raises Unknown when there is none."""
    return _programme(_one(Programme, actor, programme, "programme"))


def _programme(row: Programme) -> ProgrammeRecord:
    retired = row.retired_at is not None
    return ProgrammeRecord(
        row.pk, row.name, row.funder, row.starts_date, row.ends_date, row.target_mg, retired
    )


def machines(actor: Actor, everything: bool = False) -> list[MachineRecord]:
    """List machines by name, with what is in them, in one query."""
    inside = _heels().filter(machine_id=OuterRef("pk")).values("code")[:1]
    rows = _rows(Machine, actor, everything).annotate(heel=Subquery(inside))
    return [_machine(row, row.heel) for row in rows]


def machine(actor: Actor, machine: int) -> MachineRecord:
    """Show one machine with what is in it; raises Unknown when there is none."""
    row = _one(Machine, actor, machine, "machine")
    inside = _heels().filter(machine_id=row.pk).values_list("code", flat=True)
    return _machine(row, inside.first())


def _heels() -> QuerySet[Lot]:
    return Lot.objects.filter(form="heel", account__balance_mg__gt=0).order_by("-number")


def _machine(row: Machine, heel: str | None) -> MachineRecord:
    retired = row.retired_at is not None
    return MachineRecord(row.pk, row.name, row.kind, row.note, heel or "", retired)


def scales(actor: Actor, everything: bool = False) -> list[ScaleRecord]:
    """List scales by name."""
    return [_scale(row) for row in _rows(Scale, actor, everything)]


def scale(actor: Actor, scale: int) -> ScaleRecord:
    """Show one scale; raises Unknown when there is none."""
    return _scale(_one(Scale, actor, scale, "scale"))


def _scale(row: Scale) -> ScaleRecord:
    plate = row.accuracy_class, row.interval_mg, row.capacity_mg
    return ScaleRecord(row.pk, row.name, *plate, row.checked_date, row.retired_at is not None)


def containers(actor: Actor, everything: bool = False) -> list[ContainerRecord]:
    """List containers by name."""
    return [_container(row) for row in _rows(Container, actor, everything)]


def container(actor: Actor, container: int) -> ContainerRecord:
    """Show one container; raises Unknown when there is none."""
    return _container(_one(Container, actor, container, "container"))


def _container(row: Container) -> ContainerRecord:
    return ContainerRecord(row.pk, row.name, row.tare_mg, row.retired_at is not None)


def polymers(actor: Actor) -> list[PolymerRecord]:
    """List polymers in the order they were set up."""
    rows = Polymer.objects.filter(workshop_id=actor.workshop_id).order_by("pk")
    columns = ("pk", "code", "name", "resin_code", "density_g_cm3", "density_source")
    return [PolymerRecord(*row) for row in rows.values_list(*columns)]
