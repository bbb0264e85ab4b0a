"""Which lots and collections are measured: the same ones every time."""

from __future__ import annotations

from random import Random

from recycling.models import Lot, Origin

LATE = 4


def late_spools(workshop_id: int, count: int) -> list[str]:
    """Pick spools from the last quarter of a book, which have the longest histories."""
    spools = Lot.objects.filter(workshop_id=workshop_id, spool__isnull=False)
    codes = list(spools.order_by("number").values_list("code", flat=True))
    return Random(1).choices(codes[-max(1, len(codes) // LATE) :], k=count)


def collections(workshop_id: int, count: int) -> list[str]:
    """Pick collections from all over a book."""
    came = Origin.objects.filter(workshop_id=workshop_id, kind=Origin.COLLECTION)
    codes = list(came.order_by("number").values_list("code", flat=True))
    return Random(2).choices(codes, k=count)
