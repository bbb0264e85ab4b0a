"""What a start refuses: settings that are safe on one's own computer only."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.checks import Error, Tags, register

HOME = {"localhost", "127.0.0.1", "[::1]", "testserver"}


@register(Tags.security)
def refuse_unsafe_start(**_: Any) -> list[Error]:
    """Refuse the sample secret key, debug, or wildcard hosts beyond this computer."""
    beyond_home = set(settings.ALLOWED_HOSTS) - HOME
    found = []
    if beyond_home and settings.SECRET_KEY == settings.SAMPLE_SECRET_KEY:
        found.append(Error("Set SECRET_KEY before serving other hosts.", id="recycling.E001"))
    if beyond_home and settings.DEBUG:
        found.append(Error("DEBUG shows secrets; turn it off.", id="recycling.E002"))
    if "*" in settings.ALLOWED_HOSTS:
        found.append(Error("Name the hosts; a wildcard lets anyone in.", id="recycling.E003"))
    return found
