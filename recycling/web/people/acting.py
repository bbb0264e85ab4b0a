"""Who is acting: the member of the workshop that the address names."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone

from recycling.queries.people.members import left_as
from recycling.records.actors import Actor
from recycling.web.people.idle import is_idle
from recycling.web.people.tablet_door import at_the_tablet, elsewhere
from recycling.web.people.tablet_session import tablet_here


class ActingMiddleware:
    """Find the actor for addresses that name a workshop; others' workshops do not exist."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.actor = None  # type: ignore[attr-defined]
        with timezone.override(None):
            return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        slug, tablet = kwargs.get("slug"), tablet_here(request)
        if slug is None:
            return elsewhere(request, tablet) if tablet else None
        actors = request.user.actors if request.user.is_authenticated else []
        if tablet is not None and (request.user.is_authenticated or tablet.slug == slug):
            found = at_the_tablet(request, tablet, actors)
            if isinstance(found, HttpResponse):
                return found
            if isinstance(found, Actor):
                actors = [found]
            elif not request.user.is_authenticated:
                return None
        elif not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)
        actor = next((one for one in actors if one.slug == slug), None)
        if actor is None:
            return _left(request, slug)
        request.actor, request.actors = actor, actors  # type: ignore[attr-defined]
        if request.session.get("workshop") != slug:
            request.session["workshop"] = slug
        if tablet is None and is_idle(request, actors):
            logout(request)
            return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)
        timezone.activate(zoneinfo.ZoneInfo(actor.zone))
        return None


def _left(request: HttpRequest, slug: str) -> HttpResponse:
    """Answer that there is no such workshop; a device may ask who left it, to end their session."""
    asked = request.resolver_match.url_name if request.resolver_match else ""
    member = left_as(request.user.pk, slug) if asked == "outbox-who" and request.user.pk else ""
    if not member:
        raise Http404("no such workshop")
    answer = JsonResponse({"stop": "other", "member": member, "token": get_token(request)})
    answer["Cache-Control"] = "no-store"
    return answer


def acting(request: HttpRequest) -> dict[str, Any]:
    """Give templates the actor and the person's other workshops."""
    actor, tablet = getattr(request, "actor", None), getattr(request, "_tablet", None)
    if actor is None:
        return {"actor": None, "tablet": tablet}
    others = [one for one in request.actors if one.slug != actor.slug]  # type: ignore[attr-defined]
    return {"actor": actor, "other_workshops": others, "tablet": tablet}
