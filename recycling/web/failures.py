"""Pages for what went wrong, in plain words."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from shared import committed


def page_of(request: HttpRequest, status: int, title: str, what: str) -> HttpResponse:
    """Show what went wrong; to programs as a problem document."""
    if request.path.startswith("/api/"):
        problem = {"type": "about:blank", "title": title, "status": status, "detail": what}
        return JsonResponse(problem, status=status, content_type="application/problem+json")
    context = {"title": title, "what": what}
    return render(request, "failure.html", context, status=status)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    what = _("There is nothing at this address in this workshop. Check the code on the label.")
    return page_of(request, 404, _("Not found"), what)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return page_of(request, 403, _("Not allowed"), _("Ask a lead of the workshop."))


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return page_of(request, 400, _("Not understood"), _("Go back and send the page again."))


def broken(request: HttpRequest) -> HttpResponse:
    """Say whether what was sent is in the book, whatever broke before or after that."""
    if committed.is_committed():
        what = _(
            "What you sent is recorded: it is in the book. Something broke on our side after that."
            " Look it up before you enter it again."
        )
        return page_of(request, 500, _("Recorded, but not answered"), what)
    what = _("Something broke on our side. Nothing was recorded by this page; try again.")
    return page_of(request, 500, _("Broken"), what)


def csrf_failure(request: HttpRequest, reason: str = "", **kwargs: Any) -> HttpResponse:
    what = _("This page was open for too long or came from elsewhere. Reload it and send again.")
    answer = page_of(request, 403, _("Page too old"), what)
    answer["X-Page-Too-Old"] = "1"
    return answer
