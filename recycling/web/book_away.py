"""A book that takes no writing just now, or is away, is a 503 in words; never a broken page."""

from __future__ import annotations

from collections.abc import Callable

import structlog
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from recycling.queries.integrity.book_state import BOOK_ERRORS, unavailable
from recycling.web.failures import page_of
from recycling.web.languages import refusal_words
from shared.errors import TooOften, Unavailable

RETRY_AFTER_S = {"book-busy": "1", "book-away": "5", "book-full": "60", "book-read-only": "3600"}
log = structlog.get_logger("recycling.book")


class BookAwayMiddleware:
    """Answer in words what the database refuses while a page is made."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if isinstance(error, Unavailable):
            return unavailable_page(request, error)
        if isinstance(error, BOOK_ERRORS):
            log.warning("book away", error=repr(error), path=request.path)
            return unavailable_page(request, unavailable(error))
        return None


def unavailable_page(request: HttpRequest, refused: Unavailable) -> HttpResponse:
    """Say that nothing was kept, and when to come again."""
    words = refusal_words(refused)
    try:
        answer = page_of(request, refused.status, _("Try again later"), words)
    except BOOK_ERRORS:  # the page around it asks who is signed in
        answer = HttpResponse(
            words, status=refused.status, content_type="text/plain; charset=utf-8"
        )
    answer["Retry-After"] = RETRY_AFTER_S.get(refused.problems[0].code, "5")
    answer["Cache-Control"] = "no-store"
    return answer


def too_often_page(request: HttpRequest, often: TooOften) -> HttpResponse:
    """Say that too many tries were wrong."""
    answer = page_of(request, often.status, _("Too many tries"), refusal_words(often))
    answer["Retry-After"] = "3600"
    return answer
