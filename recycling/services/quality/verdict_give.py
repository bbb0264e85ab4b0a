"""Say of a spool how it printed."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.lookups import lot_named
from recycling.keeping.verdicts import check_verdict
from recycling.models import Verdict
from recycling.records.actors import Actor
from recycling.records.quality.entries import VerdictEntry
from shared.errors import Collected
from shared.said import say


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
