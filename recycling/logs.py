"""Logs: one JSON line an event, with the request's id."""

from __future__ import annotations

import logging
import sys

import structlog
from structlog.typing import Processor


def configure() -> None:
    """Send structlog and the standard library's loggers to standard error as JSON lines."""
    shared: list[Processor] = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.processors.format_exc_info,
    ]
    structlog.configure(
        processors=[*shared, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            processor=structlog.processors.JSONRenderer(), foreign_pre_chain=shared
        )
    )
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("recycling").setLevel(logging.INFO)
    refusals = logging.getLogger("django.request")  # our own line has each, without its tokens
    refusals.setLevel(logging.ERROR)
    refusals.addFilter(_without_token)


def _without_token(record: logging.LogRecord) -> bool:
    """Say an address whose token opens something as the request log says it."""
    said = getattr(getattr(record, "request", None), "logged_path", "")
    if said and isinstance(record.args, tuple):
        record.args = (*record.args[:-1], said)
    return True
