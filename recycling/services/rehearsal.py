"""Go through a deed and take it back, to say beforehand what it would record."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from django.db import transaction

Result = TypeVar("Result")


def rehearse(deed: Callable[[], Result]) -> Result:
    """Do a deed, undo all of it, and return its result; what it refuses is raised.

    Codes in the result are not given away: the next deed may take them.
    """
    with transaction.atomic():
        result = deed()
        transaction.set_rollback(True)
    return result
