"""The door of a workshop on a shared tablet: open to whoever acts, else to the page that asks."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from recycling.records.actors import Actor
from recycling.records.people import TabletHere
from recycling.web.people import tablet_session

OPEN = ("act-as", "lock")
ASKED_BY_SCRIPT = ("outbox-who", "outbox-pages")


def at_the_tablet(
    request: HttpRequest, tablet: TabletHere, mine: Sequence[Actor]
) -> Actor | HttpResponse | None:
    """Say who acts by PIN, or lead to the page that asks.

    None: somebody is signed in with a password, or the page is open while the tablet is locked.
    `mine` are the memberships of whoever signed in with a password.
    """
    if request.user.is_authenticated:
        if not tablet_session.is_idle(request, tablet):
            tablet_session.touch(request)
            return None
        here = next((one.member_id for one in mine if one.slug == tablet.slug), 0)
        _keep(request, here)
        tablet_session.end(request)
    else:
        actor = tablet_session.acting_here(request, tablet)
        if actor is not None:
            tablet_session.touch(request)
            _take_up(request)
            return actor
        _keep(request, request.session.get(tablet_session.MEMBER, 0))
    name = _name(request)
    if name in OPEN:
        return None
    if name in ASKED_BY_SCRIPT or "X-Outbox-Member" in request.headers:
        return HttpResponse(status=423)
    return to_acting(tablet.slug, request.get_full_path() if request.method == "GET" else "")


def elsewhere(request: HttpRequest, tablet: TabletHere) -> HttpResponse | None:
    """On pages of no workshop: end a session that lay untouched, and lead home to the tablet."""
    if request.user.is_authenticated and tablet_session.is_idle(request, tablet):
        tablet_session.end(request)
    if not request.user.is_authenticated and _name(request) == "home":
        return to_acting(tablet.slug)
    return None


def _name(request: HttpRequest) -> str:
    return (request.resolver_match.url_name or "") if request.resolver_match else ""


def _keep(request: HttpRequest, member_id: int) -> None:
    outbox = "X-Outbox-Member" in request.headers
    if request.method == "POST" and member_id and not outbox and _name(request) not in OPEN:
        tablet_session.keep_typed(request, member_id, request.get_full_path())


def _take_up(request: HttpRequest) -> None:
    """Let go of what was typed before a lock once its page has it again."""
    typed = tablet_session.typed_here(request)
    if typed and request.method == "POST" and request.get_full_path() == typed["path"]:
        tablet_session.drop_typed(request)


def to_acting(slug: str, back: str = "") -> HttpResponseRedirect:
    """Lead to the page that asks who is acting."""
    url = reverse("act-as", args=[slug])
    return redirect(f"{url}?{urlencode({'next': back})}" if back else url)


def within(request: HttpRequest, path: str, slug: str) -> str:
    """Give a path of this workshop; the day's page for any other."""
    if path.startswith(f"/w/{slug}/") and url_has_allowed_host_and_scheme(
        path, request.get_host(), request.is_secure()
    ):
        return path
    return reverse("today", args=[slug])
