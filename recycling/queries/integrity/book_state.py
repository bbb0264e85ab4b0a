"""What a database error means for whoever asks, and whether the book takes writing."""

from __future__ import annotations

import uuid

from django.db import InterfaceError, InternalError, OperationalError, connection, transaction
from django.utils import timezone

from recycling.models import UserSession
from shared.errors import Unavailable

BOOK_ERRORS = (OperationalError, InterfaceError, InternalError)
RETRIED = {"40001", "40P01"}
BUSY = RETRIED | {"55P03", "57014"}
READ_ONLY, FULL = "25006", {"53100", "53000"}
PROBE_WAIT_MS = 2_000
FILLING = 20_000
"""Signs that a probe writes: more than a page of the file holds, so that it needs a new one."""


def sql_state(error: Exception) -> str:
    """Read the SQLSTATE of a database error; empty on SQLite."""
    return getattr(error.__cause__, "sqlstate", None) or ""


def read_only() -> Unavailable:
    """Say that this server only shows the book."""
    return Unavailable.because(
        "book-read-only",
        "This server only shows the book: nobody can record or sign in here. Use the main one.",
    )


def unavailable(error: Exception) -> Unavailable:
    """Say that the book was too busy, full, closed to writing, or away."""
    state, said = sql_state(error), str(error)
    if state == READ_ONLY or "readonly database" in said:
        return Unavailable.because(
            "book-read-only",
            "The book takes no writing just now. Nothing was recorded; tell who keeps the server.",
        )
    if state in FULL or "disk is full" in said or "No space left" in said:
        return Unavailable.because(
            "book-full",
            "The disk of the book is full. Nothing was recorded; tell who keeps the server.",
        )
    if state in BUSY or "locked" in said:
        return Unavailable.because(
            "book-busy", "The book is busy just now. Send it again: it counts once."
        )
    return Unavailable.because(
        "book-away", "The book cannot be reached just now. Send it again: it counts once."
    )


def try_writing() -> str:
    """Write a page and take it off again; return the code of what went wrong, or nothing."""
    key = f"readyz{uuid.uuid4().hex}"
    try:
        _wait_at_most(PROBE_WAIT_MS)
        with transaction.atomic():
            rows = UserSession.objects.filter(session_key=key)
            UserSession.objects.create(
                session_key=key, session_data="x" * FILLING, expire_date=timezone.now()
            )
            rows.delete()
    except BOOK_ERRORS as error:
        return unavailable(error).problems[0].code
    finally:
        _wait_at_most(None)
    return ""


def _wait_at_most(wait_ms: int | None) -> None:
    """Let a probe on SQLite wait for less long than a deed does."""
    if connection.vendor != "sqlite" or connection.connection is None:
        return
    usual = 1000 * connection.settings_dict["OPTIONS"].get("timeout", 5)
    connection.connection.execute(f"PRAGMA busy_timeout={int(wait_ms or usual)}")
