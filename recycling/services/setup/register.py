"""Set up what entries refer to: sources, programmes, machines, scales, containers, polymers."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.set_up_rules import MODELS, OF_PEOPLE, check_set_up
from recycling.records.actors import Actor
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    PolymerEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)
from shared.errors import Collected


def _add(actor: Actor, what: str, entry: Any) -> int:
    values, found = asdict(entry), Collected()
    name = "code" if what == "polymer" else "name"
    values[name] = str(values[name]).strip()
    check_set_up(actor.workshop_id, what, values, found)
    found.refuse()
    row = MODELS[what]._default_manager.create(workshop_id=actor.workshop_id, **values)
    kept = {key: value for key, value in values.items() if key not in OF_PEOPLE.get(what, ())}
    shown = {key: str(value) for key, value in kept.items() if value not in (None, "")}
    keep_change(actor, f"{what} {row.pk}", "add", {}, shown)
    return row.pk


@deed("record")
def source_add(actor: Actor, entry: SourceEntry) -> int:
    """Add somebody who gives; return the id. Raises Refused when the name is taken or missing."""
    return _add(actor, "source", entry)


@deed("manage")
def programme_add(actor: Actor, entry: ProgrammeEntry) -> int:
    """Add a grant, school project or target; return the id. Raises Refused on bad dates."""
    return _add(actor, "programme", entry)


@deed("manage")
def machine_add(actor: Actor, entry: MachineEntry) -> int:
    """Add a machine; return the id. Raises Refused when its kind is unknown."""
    return _add(actor, "machine", entry)


@deed("manage")
def scale_add(actor: Actor, entry: ScaleEntry) -> int:
    """Add a scale; return the id. Raises Refused when interval and capacity make no sense."""
    return _add(actor, "scale", entry)


@deed("record")
def container_add(actor: Actor, entry: ContainerEntry) -> int:
    """Add a container with its tare; return the id. Raises Refused when the tare is no mass."""
    return _add(actor, "container", entry)


@deed("manage")
def polymer_add(actor: Actor, entry: PolymerEntry) -> int:
    """Add a polymer; return the id. Raises Refused when a number is out of bounds."""
    return _add(actor, "polymer", entry)
