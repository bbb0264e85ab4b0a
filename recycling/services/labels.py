"""Give a spool a public address for its label, and take it away again."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import timedelta

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.lookups import LotFacts, lot_named
from recycling.models import PublicLink
from recycling.queries.people.tokens import digest_of_link, token_for
from recycling.records.actors import Actor
from recycling.records.quality.verdicts import SpoolLink
from shared.errors import Refused, Unknown
from shared.said import say

VALID = timedelta(days=5 * 365)
"""A spool may lie for years before somebody prints from it."""


@deed("record")
def link_give(actor: Actor, code: str) -> SpoolLink:
    """Make the public address of a spool, or show the one it has.

    Raises
    ------
    Refused
        When it is no filament.
    """
    return _given(actor, lot_named(actor.workshop_id, code))


@deed("record")
def links_give(actor: Actor, codes: Sequence[str]) -> tuple[SpoolLink, ...]:
    """Make the public addresses of several spools for their labels, all or none.

    Raises
    ------
    Unknown
        When there is no such lot in this workshop.
    Refused
        When one is no filament.
    """
    return tuple(_given(actor, lot_named(actor.workshop_id, code, "/lots")) for code in codes)


def _given(actor: Actor, lot: LotFacts) -> SpoolLink:
    now = timezone.now()
    if lot.form != "filament":
        raise Refused.because(
            "form-wrong",
            say("Lot {lot} is {form}; filament is judged.", lot=lot.code, form=lot.form),
        )
    links = PublicLink.objects.filter(lot_id=lot.lot_id, revoked_at=None)
    link = links.first()
    if link and link.expires_at > now and digest_of_link(token_for(link.seed)) == link.digest:
        return SpoolLink(lot.code, token_for(link.seed), link.created_at, link.expires_at)
    links.update(revoked_at=now, revoked_by=actor.reference)
    seed = secrets.token_hex(16)
    link = PublicLink.objects.create(
        workshop_id=actor.workshop_id,
        lot_id=lot.lot_id,
        seed=seed,
        digest=digest_of_link(token_for(seed)),
        created_at=now,
        created_by=actor.reference,
        expires_at=now + VALID,
    )
    keep_change(actor, lot.code, "give link", {}, {"link": link.pk})
    return SpoolLink(lot.code, token_for(seed), link.created_at, link.expires_at)


@deed("record")
def link_revoke(actor: Actor, code: str) -> str:
    """Take a spool's public address away; labels that carry it open nothing any more.

    Raises
    ------
    Unknown
        When no link is in force.
    """
    lot = lot_named(actor.workshop_id, code)
    links = PublicLink.objects.filter(lot_id=lot.lot_id, revoked_at=None)
    if not links.update(revoked_at=timezone.now(), revoked_by=actor.reference):
        raise Unknown.because(
            "link-unknown", say("No public address of {lot} is in force.", lot=lot.code)
        )
    keep_change(actor, lot.code, "revoke link", {}, {})
    return lot.code
