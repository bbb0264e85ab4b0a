"""Tokens in public addresses: they follow from a seed and the secret key; hashes are kept."""

from __future__ import annotations

import base64
import hashlib
import hmac

from django.conf import settings

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
