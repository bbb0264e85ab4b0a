"""Who may: each door names the action of the one table that it stands for."""

from __future__ import annotations

from typing import Any

from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from recycling.records.actors import Actor


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
