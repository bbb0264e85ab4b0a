"""Spools of a told history that were measured as soon as they were made, and are within limits."""

from __future__ import annotations

from typing import Any

from recycling.models import FilamentReading, Lot, Spool

EVEN = [1.75, 1.74, 1.76, 1.75, 1.755, 1.745, 1.75, 1.76, 1.74, 1.75]


def all_within(told: Any) -> Any:
    """Measure every spool of the workshop along two axes; return what was told."""
    spools = Lot.objects.filter(workshop_id=told.actor.workshop_id, form="filament")
    for lot in spools.select_related("made_by"):
        Spool.objects.get_or_create(lot=lot)
        at = lot.made_by.ended_at
        FilamentReading.objects.create(
            lot=lot, first_mm=EVEN, second_mm=EVEN, measured_at=at, written_at=at
        )
    Spool.objects.filter(lot__in=spools).update(tolerance_mm=0.05)
    return told
