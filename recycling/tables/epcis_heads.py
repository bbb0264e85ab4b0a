"""What every event of EPCIS begins with: its id and times, and that it was wrong."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from recycling.records.exports import Exported
from recycling.tables.epcis_checks import INCORRECT, OCCURRED_NOT
from recycling.tables.epcis_names import Names

Event = dict[str, Any]


def local(found: Exported, at: datetime) -> str:
    """Write a time in the workshop's zone, with its offset."""
    return at.astimezone(ZoneInfo(found.zone)).isoformat(timespec="milliseconds")


def begun(found: Exported, kind: str, key: str, at: datetime, written: datetime | None) -> Event:
    """Begin an event of a kind; its id follows from the key alone."""
    names = Names(found.identity, found.slug, found.address)
    event: Event = {
        "type": kind,
        "eventID": names.lasting("event", key),
        "eventTime": local(found, at),
        "eventTimeZoneOffset": at.astimezone(ZoneInfo(found.zone)).isoformat()[-6:],
    }
    if written is not None:
        event["recordTime"] = local(found, written)
    return event


def declared(found: Exported, wrong_at: datetime | None, right: str = "") -> Event:
    """Declare an event wrong, naming by its key what corrects it; nothing while it stands."""
    if wrong_at is None:
        return {}
    reason = INCORRECT if right else OCCURRED_NOT
    said: Event = {"declarationTime": local(found, wrong_at), "reason": reason}
    if right:
        names = Names(found.identity, found.slug, found.address)
        said["correctiveEventIDs"] = [names.lasting("event", right)]
    return {"errorDeclaration": said}
