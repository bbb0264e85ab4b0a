"""Keep that an entry was thrown away on a device before it was in the book, and why."""

from __future__ import annotations

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.texts import check_text, require_reason
from recycling.records.actors import Actor
from recycling.records.recorded import DiscardEntry
from shared.errors import Collected

LONGEST = 2000


@deed("verdict")
def entry_discard(actor: Actor, entry: DiscardEntry) -> str:
    """Note what was discarded and why; nothing of it was posted.

    Raises
    ------
    Refused
        When no reason is given, or a text is too long.
    """
    reason, found = require_reason(entry.reason), Collected()
    check_text(entry.what, "/what", found, LONGEST)
    found.refuse()
    before = {"entry": entry.what, "made_at": entry.made_at, "key": entry.key}
    keep_change(actor, "outbox", "discard", before, {}, reason)
    return reason
