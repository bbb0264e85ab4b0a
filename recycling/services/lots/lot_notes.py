"""What happens to a lot besides its mass: events and verdicts."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.lookups import check_moment, lot_named
from recycling.keeping.texts import check_text
from recycling.keeping.verdicts import check_verdict
from recycling.models import LotEvent, Verdict
from recycling.records.actors import Actor
from recycling.records.runs.entries import LotEventEntry, VerdictEntry
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


@deed("verdict")
def verdict_give(actor: Actor, entry: VerdictEntry) -> str:
    """Keep what the user of a spool says of it; the newest of each giver counts.

    Raises
    ------
    Refused
        When it is no filament, or a bad spool has no defect named.
    """
    lot, found = lot_named(actor.workshop_id, entry.lot, "/lot"), Collected()
    if lot.form != "filament":
        found.add(
            "form-wrong",
            say("Lot {lot} is {form}; filament is judged.", lot=lot.code, form=lot.form),
            "/lot",
        )
    check_verdict(entry.good, entry.defects, entry.note, found)
    found.refuse()
    Verdict.objects.create(
        lot_id=lot.lot_id,
        good=entry.good,
        defects=list(dict.fromkeys(entry.defects)),
        note=entry.note,
        giver=str(actor.reference),
        given_at=timezone.now(),
    )
    return lot.code
