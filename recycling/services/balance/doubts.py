"""Say of a figure that was asked about that it is right."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.models import FigureDoubt
from recycling.records.actors import Actor
from recycling.records.balance.doubts import DoubtAnswered
from shared.errors import Unknown
from shared.said import again


@deed("record")
def doubt_answer(actor: Actor, number: int) -> DoubtAnswered:
    """Remember who said it and when; said again, the first answer stays.

    Raises
    ------
    Unknown
        When nothing of that number was asked here.
    """
    found = FigureDoubt.objects.filter(workshop_id=actor.workshop_id, pk=number).first()
    if found is None:
        raise Unknown.because("doubt-unknown", "Nothing of that number was asked here.")
    if found.answered_at is None:
        found.answered_at, found.answered_by = timezone.now(), actor.reference
        found.save(update_fields=["answered_at", "answered_by"])
    return DoubtAnswered(found.pk, again(found.said), found.answered_at)
