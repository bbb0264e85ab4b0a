"""What a browser says it is, in the few words that its owner knows it by."""

from __future__ import annotations

import time

from django.http import HttpRequest

from recycling.queries.people.sessions import DEVICE, SEEN, STARTED

BROWSERS = (("Edg", "Edge"), ("Firefox", "Firefox"), ("Chrom", "Chromium"), ("Safari", "Safari"))
SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Windows", "Windows"),
    ("Mac OS", "macOS"),
    ("Linux", "Linux"),
)


def device_named(agent: str) -> str:
    """Name browser and system of a User-Agent; empty where neither is known."""
    found = [
        next((word for sign, word in words if sign in agent), "") for words in (BROWSERS, SYSTEMS)
    ]
    return ", ".join(word for word in found if word)


def session_begun(request: HttpRequest) -> None:
    """Note since when and on what somebody is signed in."""
    now = time.time()
    device = device_named(request.headers.get("User-Agent", ""))
    request.session.update({STARTED: now, SEEN: now, DEVICE: device})
