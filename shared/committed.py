"""Whether what a request asked for is in the book, for whoever must say what broke afterwards."""

from __future__ import annotations

from contextvars import ContextVar

_committed: ContextVar[bool] = ContextVar("committed", default=False)


def begin() -> None:
    """Begin a request: nothing of it is in the book yet."""
    _committed.set(False)


def note() -> None:
    """Note that a deed of this request is committed."""
    _committed.set(True)


def is_committed() -> bool:
    """Say whether a deed of this request is in the book."""
    return _committed.get()
