"""What the session of a shared tablet holds: who acts, since when untouched, what was typed."""

from __future__ import annotations

import time
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest

from recycling.queries.people.sessions import SEEN
from recycling.queries.people.tablets import tablet_actor, tablet_of
from recycling.records.actors import Actor
from recycling.records.people import TabletHere
from recycling.web.forms.beside import is_secret

COOKIE = f"{settings.COOKIE_PREFIX}shared_tablet"
COOKIE_AGE_S = 400 * 24 * 3600
TABLET, MEMBER, TOUCHED, TYPED = "tablet", "tablet_member", SEEN, "tablet_typed"
NOTE_TOUCH_EVERY_S = 15
TYPED_KEPT_S = 12 * 3600
LARGEST_TYPED = 64_000
NOT_TYPED = ("csrfmiddlewaretoken", "path")
BY_ITSELF = ("X-Kept-Copy", "X-Outbox-Member", "X-Asked-By-Page", "HX-Request")
"""Headers of requests that a page makes by itself: they are no touch."""


def tablet_here(request: HttpRequest) -> TabletHere | None:
    """Find the shared tablet that asks; looked up once for a request that brings its cookie."""
    if not hasattr(request, "_tablet"):
        token = request.COOKIES.get(COOKIE, "")
        request._tablet = tablet_of(token) if token else None  # type: ignore[attr-defined]
    return request._tablet  # type: ignore[attr-defined]


def is_idle(request: HttpRequest, tablet: TabletHere) -> bool:
    """Say whether the tablet lay untouched for as long as it takes to lock."""
    touched = request.session.get(TOUCHED)
    return touched is not None and time.time() - touched > tablet.lock_minutes * 60


def touch(request: HttpRequest) -> None:
    """Note that somebody is at it, unless the page asked by itself."""
    if any(name in request.headers for name in BY_ITSELF):
        return
    if time.time() - request.session.get(TOUCHED, 0) > NOTE_TOUCH_EVERY_S:
        request.session[TOUCHED] = time.time()


def acting_here(request: HttpRequest, tablet: TabletHere) -> Actor | None:
    """Say who acts by PIN; None when nobody does, or not any more."""
    session = request.session
    if session.get(TABLET) != tablet.id or is_idle(request, tablet):
        return None
    return tablet_actor(tablet, session.get(MEMBER, 0))


def begin(request: HttpRequest, tablet: TabletHere, actor: Actor) -> bool:
    """Let somebody act in a session of their own; say whether they had typed something before."""
    typed = request.session.get(TYPED, {})
    remembered = request.session.get("remembered", {})
    request.session.flush()
    since = time.time() - TYPED_KEPT_S
    typed = {whose: one for whose, one in typed.items() if one["at"] > since}
    request.session.update(
        {
            TABLET: tablet.id,
            MEMBER: actor.member_id,
            TOUCHED: time.time(),
            TYPED: typed,
            "remembered": remembered,
            "workshop": tablet.slug,
        }
    )
    return typed_here(request) is not None


def typed_here(request: HttpRequest) -> dict[str, Any] | None:
    """Give what whoever acts had typed when it locked."""
    whose = str(request.session.get(MEMBER, 0))
    return request.session.get(TYPED, {}).get(whose)


def drop_typed(request: HttpRequest) -> None:
    """Let go of what whoever acts had typed: they took it up, or left it."""
    whose = str(request.session.get(MEMBER, 0))
    typed = request.session.get(TYPED, {})
    request.session[TYPED] = {one: kept for one, kept in typed.items() if one != whose}


def keep_typed(request: HttpRequest, member_id: int, path: str) -> None:
    """Keep what was typed for whoever typed it, until they act here again."""
    fields = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in NOT_TYPED and not is_secret(name)
        for value in values
    ]
    size = sum(len(name) + len(value) for name, value in fields)
    if fields and size <= LARGEST_TYPED:
        kept: dict[str, Any] = request.session.get(TYPED, {})
        entry = {"path": path, "fields": fields, "at": time.time()}
        request.session[TYPED] = {**kept, str(member_id): entry}


def end(request: HttpRequest) -> None:
    """Lock: nobody acts any more; what was typed stays for whoever typed it."""
    typed, remembered = request.session.get(TYPED, {}), request.session.get("remembered", {})
    logout(request)
    request.session.update({TYPED: typed, "remembered": remembered})
