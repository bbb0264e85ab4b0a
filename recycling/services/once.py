"""The one call that a door makes to have something done once for a key."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from recycling.keeping import once as kept
from recycling.ledger.post import lock_book
from recycling.records.actors import Actor
from shared.errors import Refused

Rendered = kept.Rendered


def once(
    actor: Actor,
    key: str,
    fingerprint: str,
    deed: Callable[[], Rendered],
    refusal: Callable[[Refused], Rendered],
    unchanged: Callable[[], None] | None = None,
) -> Rendered:
    """Do a deed once for a key and keep its answer; `unchanged` may refuse it beforehand.

    Takes the book's lock before `unchanged` looks, so that nothing changes in between.

    Raises
    ------
    Refused
        When the key was used before with other content, or is no key.
    Conflict
        When the first request with this key is still running.
    Unavailable
        When the book is away; then nothing was kept and the key may be sent again.
    """
    if unchanged is not None:
        deed = partial(_if_unchanged, actor.workshop_id, unchanged, deed)
    return kept.once(actor, key, fingerprint, deed, refusal)


def _if_unchanged(
    workshop_id: int, unchanged: Callable[[], None], deed: Callable[[], Rendered]
) -> Rendered:
    lock_book(workshop_id)
    unchanged()
    return deed()
