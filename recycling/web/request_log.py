"""One log line a request, and its id in every line and answer."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable

import structlog
from django.http import HttpRequest, HttpResponse

from shared import committed

log = structlog.get_logger("recycling.request")


class RequestLogMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request_id = uuid.uuid4().hex[:12]
        structlog.contextvars.bind_contextvars(request_id=request_id)
        committed.begin()
        started = time.monotonic()
        try:
            response = self.get_response(request)
        finally:
            structlog.contextvars.clear_contextvars()
        response["X-Request-Id"] = request_id
        log.info(
            "request",
            request_id=request_id,
            method=request.method,
            path=getattr(request, "logged_path", request.path),
            status=response.status_code,
            ms=round((time.monotonic() - started) * 1000, 1),
        )
        return response
