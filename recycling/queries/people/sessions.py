"""Where somebody is signed in."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

from django.utils import timezone

from recycling.models import UserSession
from recycling.records.people import SessionRecord

STARTED, SEEN, DEVICE = "started", "tablet_touched", "device"
"""Where a session keeps since when it is, when it was used last, and on what."""


def session_mark(session_key: str) -> str:
    """Name a session by what opens nothing."""
    return hashlib.sha256(session_key.encode()).hexdigest()[:16]


def sessions_of(user_id: int, here: str) -> list[SessionRecord]:
    """List a person's sessions, the one used last first; `here` is the key of this one."""
    rows = UserSession.objects.filter(user_id=user_id, expire_date__gt=timezone.now())
    found = [_session(row, here) for row in rows]
    return sorted(found, key=lambda one: (one.here, one.seen_at or one.started_at), reverse=True)


def _session(row: UserSession, here: str) -> SessionRecord:
    data = row.get_decoded()
    started = datetime.fromtimestamp(data.get(STARTED, 0), UTC)
    seen = data.get(SEEN)
    return SessionRecord(
        session_mark(row.session_key),
        data.get(DEVICE, ""),
        started,
        datetime.fromtimestamp(seen, UTC) if seen else None,
        row.session_key == here,
    )
