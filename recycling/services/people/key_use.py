"""Let a device in by its key, and note now and then that the key is in use."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from recycling.models import DeviceKey
from recycling.queries.people.members import key_actor, valid_key
from recycling.records.actors import Actor

NOTE_USE_EVERY = timedelta(minutes=5)


def key_use(secret: str) -> Actor | None:
    """Find whom a key acts for, and note its use every few minutes; None for no valid key.

    Reading writes nothing: whoever only reads has the use noted once the answer is complete, and
    gets the answer even when the note fails.
    """
    key = valid_key(secret)
    if key is None:
        return None
    now = timezone.now()
    if key.last_used_at is None or key.last_used_at < now - NOTE_USE_EVERY:
        _note(key.pk, now)
    return key_actor(key)


def _note(key_id: int, now: datetime) -> None:
    def note() -> None:
        DeviceKey.objects.filter(pk=key_id).update(last_used_at=now)

    transaction.on_commit(note, robust=True)
