"""One moment of the book for all that one answer shows."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from functools import partial
from typing import Any, TypeVar

from django.db import InterfaceError, OperationalError, connection

from recycling.ledger.snapshots import snapshot

AWAY = (OperationalError, InterfaceError)
Answer = TypeVar("Answer")


def at_one_moment(read: Callable[[], Answer]) -> Answer:
    """Read from one snapshot, which writes nothing; what follows its end waits for that.

    A database that is away is met by ``read`` itself, at its first statement, so that each door
    says so in its own way; one that goes away once all is read spoils nothing.
    """
    with ExitStack() as stack:
        try:
            stack.enter_context(snapshot())
        except AWAY as error:
            stack.enter_context(connection.execute_wrapper(partial(_raise, error)))
            return read()
        answer = read()
        try:
            stack.close()
        except AWAY:
            connection.close()
        return answer


def _raise(error: Exception, *statement: Any) -> None:
    raise error
