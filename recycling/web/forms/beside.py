"""Fields of a form that are no part of its entry: how it travels, and secrets, kept nowhere."""

from __future__ import annotations

CARRIED = (
    "csrfmiddlewaretoken",
    "idempotency_key",
    "step",
    "more",
    "in_words",
    "made_by",
    "made_at",
    "back",
)
"""How an entry is sent; the outbox of a device keeps none of it among what was typed."""
SECRETS = ("password", "pin", "again", "one_time")
"""Scripts know them by their kind of field, which is `password`, but for codes of one use."""


def is_secret(name: str) -> bool:
    """Say whether what is typed into a field of this name is kept nowhere."""
    return name in SECRETS or "password" in name
