"""Let a device in by its key, and note now and then that the key is in use."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from recycling.models import DeviceKey
from recycling.queries.members import key_actor, valid_key
from recycling.records.actors import Actor

NOTE_USE_EVERY = timedelta(minutes=5)


def key_use(secret: str) -> Actor | None:
    """Find whom a key acts for, and note its use every few minutes; None for no valid key."""
    key = valid_key(secret)
    if key is None:
        return None
    now = timezone.now()
    if key.last_used_at is None or key.last_used_at < now - NOTE_USE_EVERY:
        DeviceKey.objects.filter(pk=key.pk).update(last_used_at=now)
    return key_actor(key)
