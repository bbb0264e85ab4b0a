"""Where a request comes from."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest, *_given: object) -> str:
    """Give the sender's address: as many steps back as there are proxies that can be trusted."""
    hops = settings.PROXY_HOPS
    passed = [one.strip() for one in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
    if hops and len(passed) >= hops and passed[-hops]:
        return passed[-hops]
    return str(request.META.get("REMOTE_ADDR", ""))
