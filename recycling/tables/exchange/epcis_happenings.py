"""What happens to a lot without moving mass, as events of EPCIS."""

from __future__ import annotations

from typing import Any

from recycling.records.exchange.exports import HELD, JUDGED, RELEASED, Exported, Happening
from recycling.tables.exchange.epcis_heads import Names, begun, declared

Event = dict[str, Any]
SAID: dict[str, Event] = {
    "sealed": {"bizStep": "packing", "disposition": "container_closed"},
    "opened": {"bizStep": "unpacking", "disposition": "container_open"},
    "moved": {"bizStep": "storing", "disposition": "in_progress"},
    "printed": {"bizStep": "dispensing", "disposition": "partially_dispensed"},
    HELD: {
        "bizStep": "holding",
        "disposition": "non_sellable_other",
        "persistentDisposition": {"set": ["unavailable"]},
    },
    RELEASED: {
        "bizStep": "inspecting",
        "disposition": "in_progress",
        "persistentDisposition": {"unset": ["unavailable"]},
    },
    JUDGED: {"bizStep": "inspecting"},
}
"""Kind → words of the Core Business Vocabulary. A note has none and is not told."""


def happening(found: Exported, one: Happening) -> Event | None:
    """Tell what happened to a lot; None for what the vocabulary has no words for."""
    if one.kind not in SAID:
        return None
    names = Names(found.identity, found.slug, found.address)
    here = {"id": names.of("workshop")}
    event = begun(found, "ObjectEvent", f"{one.kind}/{one.key}", one.happened_at, one.written_at)
    event |= {"action": "OBSERVE", **SAID[one.kind]}
    event |= {"quantityList": [{"epcClass": names.of("lot", one.lot)}]}
    event |= {"book:code": one.lot, "readPoint": here}
    if one.kind == HELD and one.spreads:
        event["book:spreads"] = True
    if one.kind == JUDGED:
        event["disposition"] = "conformant" if one.good else "non_conformant"
        if one.defects:
            event["book:defects"] = list(one.defects)
    right = f"{one.kind}/{one.right}" if one.right else ""
    return event | declared(found, one.wrong_at, right)
