"""A workshop's events as GS1 EPCIS 2.0 in JSON-LD.

Words of business steps and dispositions are those of the GS1 Core Business Vocabulary 2.0, units
those of UN/CEFACT Recommendation 20. Nothing that somebody typed freely is told, nor any name but
that of a source that agreed to be named.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from itertools import zip_longest
from typing import Any

from recycling.records.exchange.exports import Exported, ExportEnergy, ExportEntry, ExportRun
from recycling.stages import declared_of
from recycling.stages.declaration import DISCARDED, DISPATCHED, RECEIVED
from recycling.stages.discard import BURNED
from recycling.tables.exchange.epcis_checks import checked
from recycling.tables.exchange.epcis_happenings import happening
from recycling.tables.exchange.epcis_heads import WORDS, Names, begun, declared, local
from recycling.tables.exchange.epcis_sensors import (
    energy_element,
    energy_key,
    log_elements,
    loss_element,
)
from recycling.tables.exchange.epcis_versions import Version, versions

CONTEXT = ["https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld", {"book": WORDS}]
MG_PER_KG = 1_000_000
ORIGIN_STEPS = {"collection": "collecting", "purchase": "receiving", "opening": "stock_taking"}

Event = dict[str, Any]
Telling = tuple[datetime, int, str, Callable[[], Event | None]]


def epcis_lines(found: Exported) -> Iterator[str]:
    """Write an EPCIS document piece by piece; together the pieces are one JSON text."""
    names = Names(found.identity, found.slug, found.address)
    head = {
        "@context": CONTEXT,
        "id": names.lasting("document", f"{found.sequence}/{found.read_at.isoformat()}"),
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": local(found, found.read_at),
    }
    yield json.dumps(head, ensure_ascii=False)[:-1] + ', "epcisBody": {"eventList": ['
    between = "\n"
    for event in epcis_events(found):
        yield between + json.dumps(event, ensure_ascii=False, allow_nan=False)
        between = ",\n"
    yield "\n]}}\n"


def epcis_events(found: Exported) -> Iterator[Event]:
    """Tell every event that was asked for, in order of time."""
    tellings = sorted(_tellings(found), key=lambda one: one[:3])
    for *_, tell in tellings:
        event = tell()
        if event is not None:
            yield checked(event)


def kilograms(mass_mg: int) -> float:
    """Give mg as kg; as many digits as the book has are exact.

    Examples
    --------
    >>> kilograms(12_400_001)
    12.400001
    """
    return mass_mg / MG_PER_KG


def _tellings(found: Exported) -> Iterator[Telling]:
    entries: dict[str, list[ExportEntry]] = defaultdict(list)
    for entry in found.entries:
        entries[entry.run].append(entry)
    for code, run in found.runs.items():
        for version in versions(run, entries[code]):
            if _wanted(found, version):
                tell = partial(_of_version, found, run, version)
                yield version.happened_at, version.by, code, tell
        if run.counted and run.ended_at and _in_period(found, run.ended_at, run.voided_at):
            for gone in (False, True):
                yield run.ended_at, 0, code, partial(_count, found, run, gone)
        yield from _energies(found, run)
    for one in found.happenings:
        yield one.happened_at, 0, one.lot, partial(happening, found, one)


def _in_period(found: Exported, *moments: datetime | None) -> bool:
    start, end = found.wanted.start, found.wanted.end
    if found.wanted.lot or start is None or end is None:
        return True
    return any(at is not None and start <= at < end for at in moments)


def _wanted(found: Exported, version: Version) -> bool:
    written = version.written_at if version.by != version.root else None
    return _in_period(found, version.happened_at, written, version.wrong_at)


def _key(version: Version) -> str:
    if version.by == version.root:
        return f"entry/{version.root}"
    return f"entry/{version.root}/{version.by}"


def _of_version(found: Exported, run: ExportRun, version: Version) -> Event | None:
    tell = {RECEIVED: _received, DISPATCHED: _dispatched, DISCARDED: _discarded}
    event = tell.get(declared_of(run.stage).border, _transformed)(found, run, version)
    right = _key(version.right) if version.right is not None else ""
    return None if event is None else event | declared(found, version.wrong_at, right)


def _base(found: Exported, run: ExportRun, version: Version, kind: str) -> Event:
    event = begun(found, kind, _key(version), version.happened_at, version.written_at)
    return event | _place(found, run)


def _place(found: Exported, run: ExportRun, inside: bool = True) -> Event:
    names = Names(found.identity, found.slug, found.address)
    here = names.of("workshop")
    at = names.of("machine", run.machine) if run.machine else here
    place: Event = {"readPoint": {"id": at}, "book:stage": run.stage, "book:run": run.code}
    if inside:
        place["bizLocation"] = {"id": here}
    return place


def _quantities(found: Exported, masses: dict[str, int]) -> list[Event]:
    names = Names(found.identity, found.slug, found.address)
    return [
        {"epcClass": names.of("lot", lot), "quantity": kilograms(mass_mg), "uom": "KGM"}
        for lot, mass_mg in masses.items()
    ]


def _lots(found: Exported, codes: Any) -> list[Event]:
    names = Names(found.identity, found.slug, found.address)
    told = []
    for lot in (found.lots[code] for code in codes):
        said = {"form": lot.form, "polymer": lot.polymer, "colour": lot.colour, "role": lot.role}
        given = {f"book:{word}": value for word, value in said.items() if value}
        told.append({"id": names.of("lot", lot.code), "book:code": lot.code} | given)
    return told


def _received(found: Exported, run: ExportRun, version: Version) -> Event | None:
    if not version.given:
        return None
    origin = found.origins[run.origin]
    names = Names(found.identity, found.slug, found.address)
    event = _base(found, run, version, "ObjectEvent") | {
        "action": "ADD",
        "bizStep": ORIGIN_STEPS[origin.kind],
        "disposition": "in_progress",
        "quantityList": _quantities(found, version.given),
        "book:lots": _lots(found, version.given),
        "book:origin": origin.code,
    }
    if origin.source is not None:
        source = names.lasting("source", origin.source)
        event["sourceList"] = [{"type": "possessing_party", "source": source}]
        event["book:sourceKind"] = origin.source_kind
        event["book:sourceName"] = origin.source_name
    return event


def _dispatched(found: Exported, run: ExportRun, version: Version) -> Event | None:
    if not version.drawn:
        return None
    receiver = Names(found.identity, found.slug, found.address).lasting("receiver", run.code)
    event = begun(found, "ObjectEvent", _key(version), version.happened_at, version.written_at)
    return (
        event
        | _place(found, run, inside=False)
        | {
            "action": "OBSERVE",
            "bizStep": "shipping",
            "disposition": "in_transit",
            "quantityList": _quantities(found, version.drawn),
            "destinationList": [{"type": "possessing_party", "destination": receiver}],
        }
    )


def _discarded(found: Exported, run: ExportRun, version: Version) -> Event | None:
    if not version.drawn:
        return None
    event = _base(found, run, version, "ObjectEvent") | {
        "action": "DELETE",
        "bizStep": "destroying",
        "disposition": "destroyed" if run.destination == BURNED else "disposed",
        "quantityList": _quantities(found, version.drawn),
    }
    return event | ({"book:destination": run.destination} if run.destination else {})


def _transformed(found: Exported, run: ExportRun, version: Version) -> Event | None:
    sensed = log_elements(found, run) if version.last else []
    sensed += [loss_element(version.losses)] if version.losses else []
    if not version.drawn and not version.given:
        if not sensed:
            return None
        return _base(found, run, version, "ObjectEvent") | _sensed(sensed)
    names = Names(found.identity, found.slug, found.address)
    event = _base(found, run, version, "TransformationEvent")
    event["transformationID"] = names.of("run", run.code)
    if version.drawn:
        event["inputQuantityList"] = _quantities(found, version.drawn)
    if version.given:
        event["outputQuantityList"] = _quantities(found, version.given)
        event["bizStep"] = "creating_class_instance"
        event["disposition"] = "in_progress"
        event["book:lots"] = _lots(found, version.given)
    if sensed:
        event["sensorElementList"] = sensed
    return event


def _sensed(elements: list[Event]) -> Event:
    return {"action": "OBSERVE", "bizStep": "sensor_reporting", "sensorElementList": elements}


def _count(found: Exported, run: ExportRun, gone: bool) -> Event | None:
    masses = {lot: mass_mg for lot, mass_mg in run.counted if bool(mass_mg) != gone}
    if not masses or run.ended_at is None:
        return None
    key = f"count/{run.code}/gone" if gone else f"count/{run.code}"
    event = begun(found, "ObjectEvent", key, run.ended_at, None) | _place(found, run)
    event |= {"action": "DELETE" if gone else "OBSERVE", "bizStep": "stock_taking"}
    event["quantityList"] = _quantities(found, masses)
    if gone:
        for one in event["quantityList"]:
            del one["quantity"], one["uom"]
    return event | declared(found, run.voided_at)


def _energies(found: Exported, run: ExportRun) -> Iterator[Telling]:
    """Tell a run's energy, and each figure of it that was told before."""
    if run.ended_at is None:
        return
    for one, later in zip_longest(run.energies, run.energies[1:]):
        if one.kwh is None:
            continue
        wrong_at = later.told_at if later else run.voided_at
        right = energy_key(run, later) if later and later.kwh is not None else ""
        late = one.told_at if one.number > 1 else None
        if _in_period(found, run.ended_at, late, wrong_at):
            tell = partial(_energy, found, run, one, declared(found, wrong_at, right))
            yield run.ended_at, 0, run.code, tell


def _energy(found: Exported, run: ExportRun, one: ExportEnergy, wrong: Event) -> Event:
    at = run.ended_at or run.started_at
    event = begun(found, "ObjectEvent", energy_key(run, one), at, one.told_at)
    return event | _place(found, run) | _sensed([energy_element(found, run, one)]) | wrong
