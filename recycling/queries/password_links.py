"""Links by which somebody may set a new password."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils import timezone

from recycling.models import PasswordLink
from recycling.queries.tokens import digest_of
from shared.errors import Unknown


def password_link_owner(token: str) -> str:
    """Name who may set a password by a link; raises Unknown when it is not good any more."""
    return str(good_link(PasswordLink.objects.select_related("member"), token).member.name)


def good_link(links: QuerySet[PasswordLink], token: str) -> PasswordLink:
    """Find the link of a token among these, if it is still good.

    Raises
    ------
    Unknown
        When it was used, has expired, or never was.
    """
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
