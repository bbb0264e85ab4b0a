"""What happens to entries that waited on a device."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class DiscardEntry:
    """An entry that waited on a device and is thrown away there.

    Attributes
    ----------
    what : str
        The entry in plain words, a line for each thing that was filled in.
    reason : str
        Why it is thrown away.
    key : str
        The idempotency key under which it may have been sent before.
    made_at : str
        When it was made, as the device noted it.
    """

    what: str
    reason: str
    key: str = ""
    made_at: str = ""
