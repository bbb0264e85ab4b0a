"""A signed-in person's password, asked for once more; wrong ones are counted."""

from __future__ import annotations

from recycling.keeping.limits import forget_turns, take_turn
from recycling.models import User
from shared.errors import Refused

MOST_WRONG = 10
"""Wrong passwords within an hour, on whatever page, before it is no longer looked at."""
WHAT = "password again of"


def own_password(user: User, password: str) -> None:
    """Say whether this is a person's password; the try is counted before it is looked at.

    The count commits by itself, so call it outside a transaction that a refusal undoes.

    Raises
    ------
    TooOften
        When it was wrong too often within the hour.
    Refused
        When it is wrong.
    """
    whose = f"user {user.pk}"
    take_turn(WHAT, whose, MOST_WRONG)
    if not user.check_password(password):
        raise Refused.because("password-wrong", "This is not your password.", "/password")
    forget_turns(WHAT, whose)
