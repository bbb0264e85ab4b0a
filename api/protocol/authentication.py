"""Who asks, as a key or a signed-in person of a workshop, and whether they may."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from recycling.queries.people.members import actor_for, memberships
from recycling.records.actors import Actor
from recycling.services.people.key_use import key_use
from shared.errors import Refused, Unknown
from shared.said import say

WORKSHOP_HEADER = "X-Workshop"
LONGEST_SECRET = 200


class KeyAuthentication(BaseAuthentication):
    """``Authorization: Bearer <key>``; the key names its member and its workshop."""

    def authenticate(self, request: Request) -> tuple[Actor, None] | None:
        scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
        if not scheme:
            return None
        if scheme.lower() != "bearer":
            raise AuthenticationFailed("Send the key as “Authorization: Bearer <key>”.")
        secret = secret.strip()
        plain = secret.isascii() and secret.isprintable() and len(secret) <= LONGEST_SECRET
        actor = key_use(secret) if secret and plain else None
        if actor is None:
            raise AuthenticationFailed("This key is unknown, expired or revoked; ask for another.")
        return actor, None

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="book"'


class MemberSessionAuthentication(SessionAuthentication):
    """A browser's session, with protection against forged requests."""

    def authenticate(self, request: Request) -> tuple[Actor, None] | None:
        user = getattr(request._request, "user", None)
        if user is None or not user.is_active:
            return None
        self.enforce_csrf(request)
        return workshop_actor(request, user.pk), None


def workshop_actor(request: Request, user_id: int) -> Actor:
    """Find the workshop that is meant: by header, else the session's, else the only one."""
    wanted = request.headers.get(WORKSHOP_HEADER, "")
    if wanted:
        actor = actor_for(user_id, wanted) if "\x00" not in wanted else None
        if actor is None:
            raise Unknown.because("workshop-unknown", "You are in no workshop of this name.")
        return actor
    last = request._request.session.get("workshop", "")
    actor = actor_for(user_id, last) if last else None
    if actor is not None:
        return actor
    mine = memberships(user_id)
    actor = actor_for(user_id, mine[0].slug) if len(mine) == 1 else None
    if actor is None:
        raise Refused.because(
            "workshop-missing",
            say(
                "Name one of your workshops in the header {workshop_header}.",
                workshop_header=WORKSHOP_HEADER,
            )
            if mine
            else "You belong to no workshop yet; ask a lead to take you in.",
        )
    return actor


class KeyScheme(OpenApiAuthenticationExtension):
    target_class = KeyAuthentication
    name = "key"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A key of one member and one workshop, with a scope and an expiry.",
        }


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = MemberSessionAuthentication
    name = "session"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": settings.SESSION_COOKIE_NAME,
            "description": "A signed-in browser; writing needs the header X-CSRFToken too.",
        }


def actor_of(request: Request) -> Actor:
    """Say on whose behalf is asked; nobody else is let through to a door."""
    assert isinstance(request.user, Actor)
    return request.user


class MemberMay(BasePermission):
    """Let an actor through who may take the action; what names no action is closed."""

    message = "Your role or your key's scope does not allow this; ask a lead of the workshop."

    def has_permission(self, request: Request, view: Any) -> bool:
        if not isinstance(request.user, Actor):
            return False
        method = "GET" if request.method == "HEAD" else request.method or ""
        action = getattr(view, "needs", {}).get(method)
        if action is None:  # answered with 405, unless someone forgot to name the action
            known = method.lower() in view.http_method_names
            return not (known and hasattr(view, method.lower()))
        return request.user.may(action)
