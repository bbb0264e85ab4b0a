"""Second steps at sign-in: whose are set up, and the secret that an app is told while one is.

Sources
-------
.. [1] The otpauth URI format, an Internet-Draft of the IETF: the address in the QR code.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote, urlencode

from django.conf import settings

from recycling.models import Member, RecoveryCode, SecondStep
from recycling.records.actors import Actor

ISSUER = "Regrind Ledger"
SECRET_BYTES = 20
"""160 bits, as RFC 4226, 4, R6 recommends."""


@dataclass(frozen=True)
class SecondStepRecord:
    """One's own second step.

    Attributes
    ----------
    since_at : datetime
        When it was set up.
    codes_left : int
        Recovery codes that were not used yet.
    """

    since_at: datetime
    codes_left: int


def secret_of(seed: str) -> bytes:
    """Make the secret that codes follow from; a copy of the database holds no part of it."""
    made = hmac.digest(settings.SECRET_KEY.encode(), f"second step {seed}".encode(), hashlib.sha256)
    return made[:SECRET_BYTES]


def secret_text(seed: str) -> str:
    """Write a secret as apps take it, in base 32 (RFC 4648), in groups of four."""
    text = base64.b32encode(secret_of(seed)).decode()
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def app_address(seed: str, username: str) -> str:
    """Give the address that an app reads from the QR code [1]_."""
    secret = secret_text(seed).replace(" ", "")
    given = urlencode({"secret": secret, "issuer": ISSUER}, quote_via=quote)
    return f"otpauth://totp/{quote(ISSUER)}:{quote(username)}?{given}"


def second_step_of(user_id: int) -> SecondStepRecord | None:
    """Show a person's second step; None where none is set up."""
    row = SecondStep.objects.filter(user_id=user_id).first()
    if row is None:
        return None
    left = RecoveryCode.objects.filter(second_step=row, used_at=None).count()
    return SecondStepRecord(row.since_at, left)


def has_second_step(actor: Actor, member: int) -> bool:
    """Say whether a member of the workshop has a second step; a lead may ask."""
    here = Member.objects.filter(workshop_id=actor.workshop_id, pk=member)
    return actor.may("manage") and here.filter(user__second_step__isnull=False).exists()
