"""Change how the workshop works: limits, windows, recipes, hold-ups; each with its source."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.lookups import check_polymers
from recycling.keeping.machines import check_needed, check_number, machine_by_id
from recycling.keeping.texts import check_text
from recycling.models import (
    Barrel,
    EnergyMeter,
    MaterialData,
    Polymer,
    Practice,
    ProcessingWindow,
)
from recycling.queries.setup.practice import practice_rows
from recycling.records.actors import Actor
from recycling.records.setup.first_settings import PRACTICES
from recycling.records.setup.practice import (
    MATERIAL_FIELDS,
    BarrelEntry,
    MaterialEntry,
    MeterEntry,
    PracticeEntry,
    WindowEntry,
)
from shared.errors import Collected
from shared.said import say

BOUNDS = ("usual_sd", "open_sd")
"""Where the states of a run's closure end, the nearer first."""


def _source(source: str, found: Collected) -> None:
    check_needed(source, "/source", "where it comes from", found)
    check_text(source, "/source", found, 200)


def _stamp(actor: Actor) -> dict[str, Any]:
    return {"written_at": timezone.now(), "actor": actor.reference}


@deed("manage")
def practice_set(actor: Actor, entry: PracticeEntry) -> str:
    """Set a limit or habit of the workshop; return its key. Raises Refused out of bounds."""
    found = Collected()
    field = next((one for one in PRACTICES if one.key == entry.key), None)
    if field is None:
        found.add("field-unknown", "There is no such limit.", "/key")
    else:
        check_number(entry.value, field.low, field.high, "/value", field.unit, found)
        if entry.key in BOUNDS and not found.any:
            _check_bounds(actor.workshop_id, entry, found)
    _source(entry.source, found)
    found.refuse()
    Practice.objects.create(
        workshop_id=actor.workshop_id,
        key=entry.key,
        value=entry.value,
        source=entry.source.strip(),
        **_stamp(actor),
    )
    return entry.key


def _check_bounds(workshop_id: int, entry: PracticeEntry, found: Collected) -> None:
    now = {key: row.value for key, row in practice_rows(workshop_id).items() if key in BOUNDS}
    now[entry.key] = entry.value
    if now[BOUNDS[1]] < now[BOUNDS[0]]:
        found.add("window-wrong", "This crosses the other bound of how runs close.", "/value")


@deed("manage")
def window_set(actor: Actor, entry: WindowEntry) -> str:
    """Set the processing window of a polymer or purge compound; return the material.

    Raises
    ------
    Refused
        When it ends at or below its start, or the polymer is not set up.
    """
    found = Collected()
    check_needed(entry.material, "/material", "the material", found)
    check_text(entry.material, "/material", found, 40)
    if entry.kind not in ProcessingWindow.KINDS:
        found.add(
            "kind-unknown", say("One of {kinds}.", kinds=", ".join(ProcessingWindow.KINDS)), "/kind"
        )
    if entry.kind == "polymer":
        check_polymers(actor.workshop_id, {"/material": entry.material.strip()}, found)
    for name in ("low_c", "high_c"):
        check_number(getattr(entry, name), 0, 500, f"/{name}", "°C", found)
    if not found.any and entry.high_c <= entry.low_c:
        found.add("window-wrong", "The window must end above its start.", "/high_c")
    _source(entry.source, found)
    found.refuse()
    if entry.kind == "purge compound":
        _name_compound(actor.workshop_id, entry.material.strip())
    row = ProcessingWindow.objects.create(
        workshop_id=actor.workshop_id,
        material=entry.material.strip(),
        kind=entry.kind,
        low_c=entry.low_c,
        high_c=entry.high_c,
        source=entry.source.strip(),
        **_stamp(actor),
    )
    return row.material


def _name_compound(workshop_id: int, name: str) -> None:
    """Make a purge compound choosable where a lot or a heel says what it is."""
    if len(name) <= 20:
        Polymer.objects.get_or_create(
            workshop_id=workshop_id, code=name, defaults={"name": "purge compound"}
        )


@deed("manage")
def material_set(actor: Actor, entry: MaterialEntry) -> str:
    """Set a drying recipe or properties of a polymer; return the polymer.

    Raises
    ------
    Refused
        When a number is missing or out of bounds.
    """
    found = Collected()
    if entry.kind not in MATERIAL_FIELDS:
        found.add(
            "kind-unknown",
            say("One of {material_fields}.", material_fields=", ".join(MATERIAL_FIELDS)),
            "/kind",
        )
    check_needed(entry.polymer, "/polymer", "the polymer", found)
    check_polymers(actor.workshop_id, {"/polymer": entry.polymer}, found)
    values = {}
    declared = MATERIAL_FIELDS.get(entry.kind, ())
    unknown = entry.values.keys() - {field.key for field in declared} if declared else ()
    for key in sorted(unknown):
        place = key.replace("~", "~0").replace("/", "~1")  # RFC 6901
        found.add("field-unknown", "There is no such number here.", f"/values/{place}")
    for field in declared:
        pointer = f"/values/{field.key}"
        if entry.values.get(field.key) is None:
            if not field.needed:
                continue
            found.add("number-missing", say("{field}: give a number.", field=field.label), pointer)
            continue
        values[field.key] = float(entry.values[field.key])
        check_number(values[field.key], field.low, field.high, pointer, field.unit, found)
        if field.yes_no and values[field.key] not in (0, 1):
            found.add(
                "choice-wrong",
                say("{field}: give 1 for yes or 0 for no.", field=field.label),
                pointer,
            )
    for low, high in (("least_c", "most_c"), ("balance_percent", "start_percent")):
        if not found.any and low in values and values[high] < values[low]:
            found.add("window-wrong", "This is below the other one.", f"/values/{high}")
    if entry.kind == "limits" and values.get("hygroscopic") and "moisture_percent" not in values:
        text = say("A plastic that takes up water needs its most moisture at the feed.")
        found.add("number-missing", text, "/values/moisture_percent")
    _source(entry.source, found)
    found.refuse()
    row = MaterialData.objects.create(
        workshop_id=actor.workshop_id,
        polymer=entry.polymer,
        kind=entry.kind,
        values=values,
        source=entry.source.strip(),
        **_stamp(actor),
    )
    return row.polymer


@deed("record")
def meter_set(actor: Actor, entry: MeterEntry) -> int:
    """Say how sure a machine's energy meter is; return the machine's id.

    Raises
    ------
    Refused
        When neither step nor class is given, one is out of bounds, or their source is missing.
    """
    machine, found = machine_by_id(actor.workshop_id, entry.machine), Collected()
    if entry.step_kwh is None and entry.class_percent is None:
        found.add("value-missing", "Give the step, the class or both.", "/class_percent")
    if entry.step_kwh is not None:
        check_number(entry.step_kwh, 1e-6, 1000, "/step_kwh", "kWh", found)
    if entry.class_percent is not None:
        check_number(entry.class_percent, 0.05, 20, "/class_percent", "%", found)
    _source(entry.source, found)
    found.refuse()
    EnergyMeter.objects.create(
        machine=machine,
        step_kwh=entry.step_kwh,
        class_percent=entry.class_percent,
        source=entry.source.strip(),
        **_stamp(actor),
    )
    return machine.pk


@deed("record")
def barrel_set(actor: Actor, entry: BarrelEntry) -> int:
    """Set the hold-up of a machine's barrel; return the machine's id.

    Raises
    ------
    Refused
        When a figure is out of bounds or its source is missing.
    """
    machine, found = machine_by_id(actor.workshop_id, entry.machine), Collected()
    check_number(entry.holdup_g, 0.1, 100_000, "/holdup_g", "g", found)
    check_number(entry.plug_share, 0, 0.95, "/plug_share", "", found)
    check_number(entry.tanks, 1, 100, "/tanks", "", found)
    _source(entry.source, found)
    found.refuse()
    Barrel.objects.create(
        machine=machine,
        holdup_g=entry.holdup_g,
        plug_share=entry.plug_share,
        tanks=entry.tanks,
        source=entry.source.strip(),
        **_stamp(actor),
    )
    return machine.pk
