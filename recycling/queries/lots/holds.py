"""Holds: those in force, and those released."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db.models import QuerySet

from recycling.models import Hold
from recycling.queries.lots.lots import hold_row
from recycling.queries.people.names import name_behind
from recycling.records.actors import Actor
from recycling.records.lots.lots import HoldRow
from shared.errors import Unknown

if TYPE_CHECKING:
    from recycling.queries.lots.holds_in_force import NamedHold


def _holds(actor: Actor) -> QuerySet[NamedHold]:
    rows = Hold.objects.filter(workshop_id=actor.workshop_id).select_related("lot")
    return rows.annotate(
        placed_name=name_behind("placed_by"), released_name=name_behind("released_by")
    )


def hold_row_of(actor: Actor, hold: int) -> HoldRow:
    """Show one hold, in force or released; raises Unknown when there is none."""
    row = _holds(actor).filter(pk=hold).first()
    if row is None:
        raise Unknown.because("hold-unknown", "There is no such hold in this workshop.")
    return hold_row(row)


def holds(actor: Actor, active: bool = True) -> list[HoldRow]:
    """List holds, newest first: those in force, or those released."""
    rows = _holds(actor).filter(released_at__isnull=active)
    return [hold_row(hold) for hold in rows.order_by("-pk")[:200]]
