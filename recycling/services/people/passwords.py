"""Set a new password by a link that a lead made; the link names nobody and is used up.

Look at a password that a signed-in person is asked for once more.
"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from recycling.keeping.limits import own_password
from recycling.models import PasswordLink, User
from recycling.queries.people.tokens import good_link
from shared.errors import Refused


@transaction.atomic
def password_set(token: str, password: str) -> None:
    """Set a new password by a link, which is used up; all sessions of the person end.

    Raises
    ------
    Refused
        When the password is too weak.
    Unknown
        When the link is not good any more.
    """
    links = PasswordLink.objects.select_related("member__user").select_for_update(of=("self",))
    link = good_link(links, token)
    user: Any = link.member.user
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Refused.because("password-weak", " ".join(error.messages), "/password") from error
    user.set_password(password)
    user.save(update_fields=["password"])
    link.used_at = timezone.now()
    link.save(update_fields=["used_at"])


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
