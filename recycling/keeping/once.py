"""A client's repeat is not a second entry: the first answer to each key is kept with the deed."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import partial

from django.db import IntegrityError, connection, transaction
from django.db.models import Q
from django.utils import timezone

from recycling.keeping.deed import retried
from recycling.models import Answer
from recycling.records.actors import Actor
from shared.errors import Conflict, Forbidden, Refused, Unavailable
from shared.said import say

Rendered = tuple[int, str]
LARGEST_KEPT = 256 * 2**10
"""Characters of an answer that is kept word for word; of a longer one only that it was given."""
LONGEST_KEY = 200


def once(
    actor: Actor,
    key: str,
    fingerprint: str,
    deed: Callable[[], Rendered],
    refusal: Callable[[Refused], Rendered],
) -> Rendered:
    """Do a deed once for a key and keep its answer, refusals included, in one transaction.

    Raises
    ------
    Refused
        When the key was used before with other content, or is no key.
    Conflict
        When the first request with this key is still running.
    Unavailable
        When the book is away; then nothing was kept and the key may be sent again.
    """
    if not key:
        raise Refused.because("key-missing", "Send an Idempotency-Key with every POST.", "")
    if len(key) > LONGEST_KEY or not key.isascii() or not key.isprintable():
        raise Refused.because(
            "key-unreadable",
            say(
                "A key is at most {longest_key} printable ASCII characters.",
                longest_key=LONGEST_KEY,
            ),
            "",
        )
    return retried(partial(_once, actor, key, fingerprint, deed, refusal))


def _once(
    actor: Actor,
    key: str,
    fingerprint: str,
    deed: Callable[[], Rendered],
    refusal: Callable[[Refused], Rendered],
) -> Rendered:
    with transaction.atomic():
        _claim(actor, key)
        mine = Q(actor=actor.reference) | Q(actor=None)  # none is named on answers of old
        kept = Answer.objects.filter(mine, workshop_id=actor.workshop_id, key=key).first()
        if kept is not None:
            if kept.fingerprint != fingerprint:
                raise Refused.because(
                    "key-reused", "This key was used before with other content; use a new one."
                )
            if not kept.body:
                raise Conflict.because(
                    "answer-not-kept",
                    "This was recorded once, and its answer was too long to be kept: read what it"
                    " made at its own address.",
                )
            return kept.status, kept.body
        status, body = _attempt(deed, refusal)
        try:
            Answer.objects.create(
                workshop_id=actor.workshop_id,
                actor=actor.reference,
                key=key,
                fingerprint=fingerprint,
                status=status,
                body=body if len(body) <= LARGEST_KEPT else "",
                created_at=timezone.now(),
            )
        except IntegrityError as error:
            raise Conflict.because("key-running", "This key is being worked on.") from error
        return status, body


def _attempt(deed: Callable[[], Rendered], refusal: Callable[[Refused], Rendered]) -> Rendered:
    try:
        with transaction.atomic():
            return deed()
    except (Unavailable, Forbidden):
        raise
    except Refused as refused:
        return refusal(refused)


def _claim(actor: Actor, key: str) -> None:
    """Refuse at once when another request holds the key; SQLite has one writer anyway."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_try_advisory_xact_lock(%s, %s)",
            [actor.workshop_id % 2**31, zlib.crc32(f"{actor.reference} {key}".encode()) - 2**31],
        )
        if not cursor.fetchone()[0]:
            raise Conflict.because(
                "key-running", "The first request with this key is still running; ask again."
            )
