"""Change, retire and bring back what entries refer to; what it was stays readable."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.names import keep_earlier_name
from recycling.keeping.set_up_rules import MODELS, OF_PEOPLE, check_set_up
from recycling.models import Lot, Run, Weighing
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
from shared.errors import Collected, Refused, Unknown
from shared.said import say

OF_THE_PLATE = ("interval_mg", "capacity_mg", "accuracy_class")
NOT_VALUES = ("retired", "empty")


def _change(actor: Actor, what: str, row: Any, change: Any) -> None:
    """Check and keep what is different; what is left out stays as it is."""
    given = {
        name: value.strip() if isinstance(value, str) else value
        for name, value in asdict(change).items()
        if value is not None and name not in NOT_VALUES
    }
    given |= dict.fromkeys(getattr(change, "empty", ()))
    names = [one.attname for one in row._meta.concrete_fields]
    kept = {one: getattr(row, one) for one in names if one not in ("id", "workshop_id")}
    found = Collected()
    check_set_up(actor.workshop_id, what, kept | given, found, itself=row.pk)
    found.refuse()
    if change.retired is not None and change.retired != (row.retired_at is not None):
        given["retired_at"] = timezone.now() if change.retired else None
    before = {name: _said(kept[name]) for name in given if kept[name] != given[name]}
    if not before:
        return
    if getattr(row, "is_erased", False):
        raise Refused.because("source-erased", "This source was erased. Add it anew if it is back.")
    for name, value in given.items():
        setattr(row, name, value)
    row.save(update_fields=list(given))
    after = {name: _said(given[name]) for name in before}
    if what in OF_PEOPLE:
        _keep_apart(actor, f"{what} {row.pk}", before, after)
    keep_change(actor, f"{what} {row.pk}", "change", before, after)


def _keep_apart(actor: Actor, subject: str, before: dict[str, str], after: dict[str, str]) -> None:
    """Leave numbers in the history where names were, for it cannot be changed; and no note."""
    if "name" in before:
        number = keep_earlier_name(actor.workshop_id, subject, before["name"])
        before["name"], after["name"] = f"№ {number}", f"№ {number + 1}"
    if "note" in before:
        before["note"] = after["note"] = "…"


def _said(value: Any) -> str:
    return "" if value is None else str(value)


def _row(actor: Actor, what: str, row_id: int) -> Any:
    """Lock the row; raises Unknown when the workshop has none."""
    rows = MODELS[what]._default_manager.filter(workshop_id=actor.workshop_id, pk=row_id)
    row = rows.select_for_update().first()
    if row is None:
        raise Unknown.because(
            f"{what}-unknown", say("There is no such {what} in this workshop.", what=what)
        )
    return row


@deed("record")
def source_change(actor: Actor, source: int, change: SourceChange) -> SourceRecord:
    """Change, retire or bring back somebody who gives. Raises Refused on bad values, Unknown."""
    _change(actor, "source", _row(actor, "source", source), change)
    return query.source(actor, source)


@deed("manage")
def programme_change(actor: Actor, programme: int, change: ProgrammeChange) -> ProgrammeRecord:
    """Change, retire or bring back a programme. Raises Refused on bad values, Unknown."""
    for name in change.empty:
        if name not in ("starts_date", "ends_date", "target_mg"):
            raise Refused.because(
                "field-needed", say("{name} cannot be empty.", name=name), "/empty"
            )
    _change(actor, "programme", _row(actor, "programme", programme), change)
    return query.programme(actor, programme)


@deed("manage")
def machine_change(actor: Actor, machine: int, change: MachineChange) -> MachineRecord:
    """Change, retire or bring back a machine.

    Raises
    ------
    Refused
        On bad values; and when it is to be retired with a heel in it, or with a run that goes on.
    Unknown
        When there is no such machine.
    """
    row = _row(actor, "machine", machine)
    if change.retired and row.retired_at is None:
        _refuse_in_use(row)
    _change(actor, "machine", row, change)
    return query.machine(actor, machine)


def _refuse_in_use(machine: Any) -> None:
    run = Run.objects.filter(machine=machine, state=Run.OPEN).first()
    heel = Lot.objects.filter(machine=machine, form="heel", account__balance_mg__gt=0).first()
    if run is not None:
        text = say("Run {run} goes on on it; close it first.", run=run.code)
        raise Refused.because("machine-in-use", text, "/retired")
    if heel is not None:
        text = say("Heel {lot} is still in it; discard it or use it up first.", lot=heel.code)
        raise Refused.because("machine-in-use", text, "/retired")


@deed("manage")
def scale_change(actor: Actor, scale: int, change: ScaleChange) -> ScaleRecord:
    """Change, retire or bring back a scale.

    Raises
    ------
    Refused
        On bad values; and when the plate's figures are to change after something was weighed on
        it: the uncertainty of every such weighing rests on them.
    Unknown
        When there is no such scale.
    """
    row = _row(actor, "scale", scale)
    found = Collected()
    for name in OF_THE_PLATE:
        value = getattr(change, name)
        if value not in (None, getattr(row, name)) and _weighed_on(row):
            text = (
                "Things were weighed on it. Retire it, and add the other scale under its own name."
            )
            found.add("scale-in-use", text, f"/{name}")
    found.refuse()
    _change(actor, "scale", row, change)
    return query.scale(actor, scale)


def _weighed_on(scale: Any) -> bool:
    return Weighing.objects.filter(scale=scale).exists()


@deed("record")
def container_change(actor: Actor, container: int, change: ContainerChange) -> ContainerRecord:
    """Change, retire or bring back a container. Raises Refused on bad values, Unknown."""
    _change(actor, "container", _row(actor, "container", container), change)
    return query.container(actor, container)
