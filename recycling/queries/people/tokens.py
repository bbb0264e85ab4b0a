"""Tokens in public addresses: they follow from a seed and the secret key; hashes are kept.

Links by which somebody may set a new password.
"""

from __future__ import annotations

import base64
import hashlib
import hmac

from django.conf import settings
from django.db.models import QuerySet
from django.utils import timezone

from recycling.models import PasswordLink
from shared.errors import Unknown

TOKEN_BYTES = 16


def token_for(seed: str) -> str:
    """Make the token of a public link from its seed: 128 bits that the database does not hold.

    In base 32 (RFC 4648), so that a label's square can hold it in capitals.
    """
    made = hmac.new(settings.SECRET_KEY.encode(), f"public link {seed}".encode(), hashlib.sha256)
    return base64.b32encode(made.digest()[:TOKEN_BYTES]).decode().rstrip("=")


def digest_of(token: str) -> str:
    """Give the hash that is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def digest_of_link(token: str) -> str:
    """Give the hash that is kept of a public link's token, typed in capitals or not."""
    return digest_of(token.upper())


def salted(what: str, day: str) -> str:
    """Hash something with the secret key and the day, so that it cannot be guessed or followed."""
    return hmac.new(
        settings.SECRET_KEY.encode(), f"{day} {what}".encode(), hashlib.sha256
    ).hexdigest()


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
