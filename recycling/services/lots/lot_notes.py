"""What happens to a lot besides its mass: events."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.lookups import check_moment, lot_named
from recycling.keeping.texts import check_text
from recycling.models import LotEvent
from recycling.records.actors import Actor
from recycling.records.lots.notes import LotEventEntry
from shared.errors import Collected
from shared.said import say


@deed("record")
def lot_event(actor: Actor, entry: LotEventEntry) -> str:
    """Note that a lot was sealed, opened, moved or printed from; return its code.

    Raises
    ------
    Refused
        When the lot is unknown or the event is none of these.
    """
    lot, found = lot_named(actor.workshop_id, entry.lot, "/lot"), Collected()
    check_moment(entry.happened_at, "/happened_at", found)
    if entry.kind not in LotEvent.KINDS:
        found.add("kind-unknown", say("One of {kinds}.", kinds=", ".join(LotEvent.KINDS)), "/kind")
    if entry.kind == "moved" and not entry.place:
        found.add("place-missing", "Say where it went.", "/place")
    check_text(entry.place, "/place", found, 120)
    check_text(entry.note, "/note", found)
    found.refuse()
    LotEvent.objects.create(
        lot_id=lot.lot_id,
        kind=entry.kind,
        happened_at=entry.happened_at,
        written_at=timezone.now(),
        actor=actor.reference,
        place=entry.place,
        note=entry.note,
    )
    return lot.code
