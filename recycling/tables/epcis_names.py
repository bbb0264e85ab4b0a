"""Names in files for other systems: URIs of our own, that tell nothing of a person."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID, uuid5

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
