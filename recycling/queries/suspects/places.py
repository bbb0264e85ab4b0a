"""Where a lot was last moved to."""

from __future__ import annotations

from django.db.models import OuterRef, Subquery

from recycling.models import LotEvent


def last_place() -> Subquery:
    """Say of a lot where it was last moved to."""
    moved = LotEvent.objects.filter(lot_id=OuterRef("pk"), place__gt="")
    return Subquery(moved.order_by("-happened_at", "-pk").values("place")[:1])
