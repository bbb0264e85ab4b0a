"""Sessions whose cookie is taken away only by the request that ends them."""

from __future__ import annotations

from django.contrib.sessions.middleware import SessionMiddleware as _SessionMiddleware
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import patch_vary_headers

from recycling.queries.integrity.book_state import BOOK_ERRORS, unavailable
from recycling.web.book_away import unavailable_page

SAFE = ("GET", "HEAD")


class SessionMiddleware(_SessionMiddleware):
    """Leave the cookie alone when another request ended the session.

    Pages are fetched in the background while somebody locks a tablet or signs in; an answer to
    the session before would otherwise take away the cookie of the one that has just begun, and
    with it what was typed.
    """

    def process_response(  # type: ignore[override]
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponse | HttpResponseBase:
        session = request.session
        if session.modified or not session.is_empty():
            try:
                return super().process_response(request, response)  # type: ignore[arg-type]
            except BOOK_ERRORS as error:
                if request.method in SAFE:  # what is only read is shown; the rest waits
                    return response
                return unavailable_page(request, unavailable(error))
        if session.accessed:
            patch_vary_headers(response, ("Cookie",))
        return response
