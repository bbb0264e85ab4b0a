"""What a page or an answer of the API shows was true at one moment."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from recycling.queries.one_moment import at_one_moment

SAFE = ("GET", "HEAD")


class OneMomentMiddleware:
    """Answer whoever only reads from one snapshot; it stands last, next to the views.

    Sessions and messages are written around it. A view that must answer without the book says
    ``without_book``.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., HttpResponseBase],
        args: Sequence[Any],
        kwargs: Mapping[str, Any],
    ) -> HttpResponseBase | None:
        if request.method not in SAFE or getattr(view, "without_book", False):
            return None
        if settings.SESSION_COOKIE_NAME in request.COOKIES:
            bool(request.user.is_authenticated)  # looked up now: it ends a session that is void

        def read() -> HttpResponseBase:
            answer = view(request, *args, **kwargs)
            render = getattr(answer, "render", None)
            return render() if callable(render) else answer

        return at_one_moment(read)
