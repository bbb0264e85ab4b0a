"""Sessions that nobody used for long enough end (OWASP ASVS 5.0, 7.3.1)."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from recycling.queries.people.sessions import SEEN
from recycling.records.actors import Actor
from recycling.web.people.tablet_session import BY_ITSELF
from shared.roles import LEAD

NOTED_PARTS = 12
"""A use is noted once in this part of the limit, so that hardly any page writes."""


def is_idle(request: HttpRequest, actors: Sequence[Actor]) -> bool:
    """Say whether the session lay unused for too long; else note its use now and then."""
    lead = any(one.role == LEAD for one in actors)
    hours = settings.SESSION_IDLE_LEAD_HOURS if lead else settings.SESSION_IDLE_HOURS
    signed_in = getattr(request.user, "last_login", None)
    seen = request.session.get(SEEN) or (signed_in.timestamp() if signed_in else 0.0)
    now = timezone.now().timestamp()
    unused = now - seen
    if unused > hours * 3600:
        return True
    by_itself = any(name in request.headers for name in BY_ITSELF)
    if unused > hours * 3600 / NOTED_PARTS and not by_itself and not settings.READ_ONLY:
        request.session[SEEN] = now
    return False
