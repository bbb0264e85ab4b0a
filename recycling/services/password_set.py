"""Set a new password by a link that a lead made; the link names nobody and is used up."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from recycling.models import PasswordLink
from recycling.queries.tokens import digest_of
from shared.errors import Refused, Unknown


def _link(token: str) -> PasswordLink:
    links = PasswordLink.objects.select_related("member__user").select_for_update(of=("self",))
    link = links.filter(
        digest=digest_of(token),
        used_at=None,
        expires_at__gt=timezone.now(),
        member__left_at=None,
        member__user__is_active=True,
    ).first()
    if link is None:
        raise Unknown.because(
            "link-unknown", "This link was used, has expired, or never was. Ask a lead for another."
        )
    return link


@transaction.atomic
def password_link_owner(token: str) -> str:
    """Name who may set a password by a link; raises Unknown when it is not good any more."""
    return str(_link(token).member.name)


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
    link = _link(token)
    user: Any = link.member.user
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Refused.because("password-weak", " ".join(error.messages), "/password") from error
    user.set_password(password)
    user.save(update_fields=["password"])
    link.used_at = timezone.now()
    link.save(update_fields=["used_at"])
