"""Look at a password that a signed-in person is asked for once more."""

from __future__ import annotations

from recycling.keeping.own_password import own_password
from recycling.models import User


def own_password_try(user_id: int, password: str) -> None:
    """Say whether this is a person's password, whatever the workshop; tries are counted.

    Raises
    ------
    TooOften
        When it was wrong too often within the hour.
    Refused
        When it is wrong.
    """
    own_password(User.objects.get(pk=user_id), password)
