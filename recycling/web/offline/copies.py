"""Copies of pages that a device keeps: they name nobody and hold no token and no key."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse

HEADER = "X-Kept-Copy"
OWNER_HEADER = "X-Outbox-Member"
SHOWN_NEXT = "X-Shown-Next"
"""The worker follows an answer only to see where it leads; the person is shown it next."""
_HIDDEN = re.compile(
    rb'(<input type="hidden" name="(?:csrfmiddlewaretoken|idempotency_key)" value=")[^"]*"'
)


class CopiesMiddleware:
    """Make a page into a copy to keep when a device asks for one; refuse others' entries."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if not getattr(request, "kept_copy", False):
            return answer
        answer["Cache-Control"] = "no-store"
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            answer.content = _HIDDEN.sub(rb'\1"', answer.content)
            answer[HEADER] = "1"
        return answer

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        actor = getattr(request, "actor", None)
        if actor is None:
            return None
        owner = request.headers.get(OWNER_HEADER, "")
        if owner and owner != str(actor.reference):
            return HttpResponse(status=412)
        if request.method == "GET" and request.headers.get(HEADER) == "1":
            request.kept_copy = True  # type: ignore[attr-defined]
            nobody = replace(actor, name="")
            request.actor, request.actors = nobody, [nobody]  # type: ignore[attr-defined]
            _say_later(request)
        elif request.method == "GET" and SHOWN_NEXT in request.headers:
            _say_later(request)
        return None


def _say_later(request: HttpRequest) -> None:
    """Leave what is said to the person for the page that the person sees."""
    if hasattr(request, "_messages"):
        del request._messages
