"""Where a request comes from."""

from __future__ import annotations

from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest, *_given: object) -> str:
    """Give the sender's address: as many steps back as there are proxies that can be trusted."""
    hops = settings.PROXY_HOPS
    passed = [one.strip() for one in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
    if hops and len(passed) >= hops and _is_address(passed[-hops]):
        return passed[-hops]
    return str(request.META.get("REMOTE_ADDR", ""))


def address_or_none(request: HttpRequest, *_given: object) -> str | None:
    """Give the sender's address for the count of wrong passwords."""
    return address_of(request) or None


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True
