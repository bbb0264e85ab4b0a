"""Count tries to sign in, so that one address cannot try names and passwords without end."""

from __future__ import annotations

from recycling.keeping.deed import refuse_read_only, retried
from recycling.keeping.limits import give_back, take_turn

WHAT = "sign in from"
MOST_WRONG = 60
"""Wrong tries within an hour from one address, under whatever names; many may share it."""


def sign_in_try(address: str) -> None:
    """Count a try before the password is looked at.

    Raises
    ------
    TooOften
        When there were as many wrong ones within the hour.
    Unavailable
        When nothing can be written, for then nobody can sign in.
    """
    refuse_read_only()
    retried(lambda: take_turn(WHAT, address, MOST_WRONG))


def sign_in_right(address: str) -> None:
    """Take a try off again: it was right."""
    give_back(WHAT, address)
