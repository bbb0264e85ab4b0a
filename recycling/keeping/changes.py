"""Append-only events for changes to facts that are not mass."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from recycling.models import ChangeEvent
from recycling.records.actors import Actor


def keep_change(
    actor: Actor,
    subject: str,
    deed: str,
    before: dict[str, Any],
    after: dict[str, Any],
    reason: str = "",
) -> None:
    """Store who changed what, from what, to what, and why."""
    ChangeEvent.objects.create(
        workshop_id=actor.workshop_id,
        subject=subject,
        deed=deed,
        before=before,
        after=after,
        reason=reason,
        written_at=timezone.now(),
        actor=actor.reference,
    )
