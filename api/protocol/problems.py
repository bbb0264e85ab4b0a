"""Refusals as RFC 9457 problem details, whatever refused."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import DataError
from django.http import Http404, HttpResponse
from rest_framework import exceptions
from rest_framework.views import set_rollback

from recycling.queries.integrity.book_state import BOOK_ERRORS, unavailable
from shared.errors import Conflict, Problem, Refused, Unavailable, Unknown
from shared.said import say

MEDIA_TYPE = "application/problem+json"
TYPE_PREFIX = "urn:regrind-ledger:problem:"
RETRY_AFTER_S = "1"
MOST_NAMED, LONGEST_DETAIL, LONGEST_DETAILS = 100, 600, 4_000
"""Problems that an answer names, the others being counted, and characters of their words."""


class BadRequest(Refused):
    """A request that cannot be read: no JSON, no key, an unknown parameter."""

    status = 400
    title = "Not understood"


class TooLarge(BadRequest):
    """A body that is larger than any entry."""

    status = 413
    title = "Too large"


class Stale(Conflict):
    """Somebody else changed what ``If-Match`` stands for."""

    status = 412


TITLES = {
    401: "Who are you?",
    403: "Not allowed",
    404: "Not found",
    405: "Not possible here",
    406: "No such form of answer",
    415: "Not JSON",
}


NOT_SHOWN = "Not shown"
"""Title of a refusal where nothing was to be recorded."""


def problem_json(refused: Refused) -> str:
    """Write a refusal as a problem document."""
    codes = {problem.code for problem in refused.problems}
    named = refused.problems[:MOST_NAMED]
    more = len(refused.problems) - len(named)
    detail = _short(" ".join(dict.fromkeys(_short(one.detail) for one in named)), LONGEST_DETAILS)
    if more:
        detail += " " + say("And {more} more.", more=f"{more:,}")
    return json.dumps(
        {
            "type": TYPE_PREFIX + (codes.pop() if len(codes) == 1 else "several"),
            "title": refused.title,
            "status": refused.status,
            "detail": detail,
            "errors": [_error(problem) for problem in named],
            "more_errors": more,
        },
        ensure_ascii=False,
    )


def _error(problem: Problem) -> dict[str, Any]:
    place = {"pointer": _short(problem.pointer)}
    if problem.pointer.startswith("?"):
        place = {"parameter": _short(problem.pointer[1:])}
    said = {**place, "detail": _short(problem.detail), "code": problem.code}
    if not problem.suggestions:
        return said
    return {**said, "suggestions": [{"value": one} for one in problem.suggestions]}


def _short(text: str, longest: int = LONGEST_DETAIL) -> str:
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def problem_response(error: Exception, context: Mapping[str, Any] | None = None) -> Any:
    """Answer a failed request; None for what no one foresaw."""
    refused = refusal_of(error)
    if refused is None:
        return None
    set_rollback()
    asked = getattr((context or {}).get("request"), "method", "")
    if asked in ("GET", "HEAD") and refused.title == Refused.title:
        refused.title = NOT_SHOWN
    response = HttpResponse(problem_json(refused), status=refused.status, content_type=MEDIA_TYPE)
    if refused.status == Unavailable.status:
        response["Retry-After"] = RETRY_AFTER_S
    if isinstance(error, exceptions.APIException) and hasattr(error, "auth_header"):
        response["WWW-Authenticate"] = error.auth_header
    return response


def refusal_of(error: Exception) -> Refused | None:
    """Say an error as a refusal."""
    if isinstance(error, Refused):
        return error
    if isinstance(error, BOOK_ERRORS):
        return unavailable(error)
    if isinstance(error, DataError):
        return Refused.because("value-unfit", "A text or number here is larger than the book has.")
    if isinstance(error, Http404):
        return nothing_here()
    if isinstance(error, SuspiciousOperation):
        return BadRequest.because("request-unreadable", "This request cannot be read.")
    if isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if isinstance(error, exceptions.APIException):
        return _from_framework(error)
    return None


def nothing_here() -> Refused:
    """Say that an address leads nowhere."""
    return Unknown.because(
        "address-unknown", "There is nothing at this address; addresses end with a slash."
    )


def _from_framework(error: exceptions.APIException) -> Refused:
    code = str(error.get_codes()) if isinstance(error.detail, str) else "invalid"
    name = re.sub(r"[^a-z]+", "-", code.lower())
    refused = Refused.because(name, str(error.detail))
    refused.status = error.status_code
    refused.title = TITLES.get(error.status_code) or HTTPStatus(error.status_code).phrase
    return refused
