"""What an address or a cookie may hold: the same signs as every other text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from recycling.web.failures import page_of
from shared.texts import strange_sign


class ReadableMiddleware:
    """Refuse addresses that hold signs which are not kept; leave out cookies that do.

    Words of an address go into searches and back into the page. The API refuses them itself,
    naming the parameter.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if any(strange_sign(value) for value in request.COOKIES.values()):
            kept = {name: one for name, one in request.COOKIES.items() if not strange_sign(one)}
            request.COOKIES = kept
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if request.path.startswith("/api/"):
            return None
        said = [word for name, words in request.GET.lists() for word in (name, *words)]
        if any(strange_sign(word, lines=True) for word in (request.path_info, *said)):
            what = _("This address holds a sign that nobody can see. Type it again without it.")
            return page_of(request, 400, _("Not understood"), what)
        return None
