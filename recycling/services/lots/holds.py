"""Put lots on hold and release them."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.lookups import lot_named, origin_named, run_named
from recycling.keeping.texts import require_reason
from recycling.models import Hold, Lot
from recycling.records.actors import Actor
from recycling.records.lots.notes import HoldEntry
from recycling.records.recorded import HoldPlaced
from shared.errors import Conflict, Refused, Unknown
from shared.said import say


@deed("hold")
def hold_place(actor: Actor, entry: HoldEntry) -> HoldPlaced:
    """Hold a lot, every lot of a collection or all that a run gave; draws stop at once.

    Raises
    ------
    Refused
        When no reason is given, nothing is named so, or it is held already.
    """
    reason = require_reason(entry.reason)
    code, lot_ids = _targets(actor.workshop_id, entry.target)
    if not lot_ids:
        raise Refused.because(
            "nothing-to-hold", say("{code} has given no lot to hold.", code=code), "/target"
        )
    held = Hold.objects.filter(lot_id__in=lot_ids, released_at=None)
    if entry.with_descendants:
        held = held.filter(with_descendants=True)
    held_ids = set(held.values_list("lot_id", flat=True))
    if held_ids == set(lot_ids):
        raise Refused.because(
            "hold-exists", say("{code} is on hold already.", code=code), "/target"
        )
    holds = [
        Hold.objects.create(
            workshop_id=actor.workshop_id,
            lot_id=lot_id,
            with_descendants=entry.with_descendants,
            reason=reason,
            placed_at=timezone.now(),
            placed_by=actor.reference,
        )
        for lot_id in lot_ids
        if lot_id not in held_ids
    ]
    keep_change(actor, code, "hold", {}, {"holds": [hold.pk for hold in holds]}, reason)
    return HoldPlaced(tuple(hold.pk for hold in holds), code, entry.with_descendants)


def _targets(workshop_id: int, typed: str) -> tuple[str, list[int]]:
    if typed.strip()[:1].upper() in set("CPO"):
        origin = origin_named(workshop_id, typed, "/target")
        lots = Lot.objects.filter(origin=origin).order_by("pk")
        return origin.code, list(lots.values_list("pk", flat=True))
    if typed.strip()[:1].upper() == "R":
        run = run_named(workshop_id, typed)
        lots = Lot.objects.filter(made_by=run, made_mg__gt=0).order_by("pk")
        return run.code, list(lots.values_list("pk", flat=True))
    lot = lot_named(workshop_id, typed, "/target")
    return lot.code, [lot.lot_id]


@deed("release")
def hold_release(actor: Actor, hold_id: int, reason: str) -> HoldPlaced:
    """Release a hold, with a reason.

    Raises
    ------
    Refused
        When there is no such hold, or it was released before.
    """
    reason = require_reason(reason)
    hold = (
        Hold.objects.select_related("lot").filter(pk=hold_id, workshop_id=actor.workshop_id).first()
    )
    if hold is None:
        raise Unknown.because("hold-unknown", "There is no such hold in this workshop.")
    if hold.released_at is not None:
        raise Conflict.because("hold-released", "This hold was released before.")
    hold.released_at, hold.released_by = timezone.now(), actor.reference
    hold.release_reason = reason
    hold.save(update_fields=["released_at", "released_by", "release_reason"])
    keep_change(actor, hold.lot.code, "release", {"hold": hold.pk}, {}, reason)
    return HoldPlaced((hold.pk,), hold.lot.code, hold.with_descendants)
