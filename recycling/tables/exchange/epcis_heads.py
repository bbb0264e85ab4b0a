"""Names in files for other systems: URIs of our own, that tell nothing of a person.

What every event of EPCIS begins with: its id and times, and that it was wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from recycling.records.exchange.exports import Exported
from recycling.tables.exchange.epcis_checks import INCORRECT, OCCURRED_NOT

WORDS = "urn:uuid:0b6f8a52-64cf-5d0c-9a3e-6b1c6f0c9d7e#"
"""Name space of the words that these files have of their own."""
PAGES = {"lot": "lots/{}/", "run": "runs/{}/", "machine": "machines/{}/", "workshop": ""}
"""What has a page, at its address below a workshop's."""


@dataclass(frozen=True)
class Names:
    """Makes the URI of a thing: its page at the configured address, else a name-based UUID.

    Attributes
    ----------
    identity : UUID
        What stays the same of the workshop wherever it is kept.
    slug : str
        The workshop's short name in addresses.
    address : str
        The configured address of the service, without a slash at its end; may be empty.

    Examples
    --------
    >>> from uuid import NAMESPACE_DNS
    >>> Names(NAMESPACE_DNS, "tidemill", "https://ledger.example.org").of("lot", "L345-L")
    'https://ledger.example.org/w/tidemill/lots/L345-L/'
    >>> Names(NAMESPACE_DNS, "tidemill", "").of("lot", "L345-L")
    'urn:uuid:7f95849c-6971-5c85-93d2-be330cd0245c'
    """

    identity: UUID
    slug: str
    address: str = ""

    def of(self, kind: str, key: object = "") -> str:
        """Give the URI of a thing of a kind."""
        if self.address and kind in PAGES:
            return f"{self.address}/w/{self.slug}/{PAGES[kind].format(key)}"
        return self.lasting(kind, key)

    def lasting(self, kind: str, key: object = "") -> str:
        """Give a URI that follows from the workshop's identity alone (RFC 9562, version 5)."""
        return f"urn:uuid:{uuid5(self.identity, f'{kind}/{key}')}"


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
