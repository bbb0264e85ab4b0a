"""Take what somebody without an account says of a spool."""

from __future__ import annotations

import secrets
from functools import partial

from django.db import transaction
from django.utils import timezone

from recycling.keeping.deed import retried
from recycling.keeping.limits import take_turn
from recycling.keeping.verdicts import check_printed, check_verdict
from recycling.ledger.post import lock_book
from recycling.models import Verdict, VerdictPhoto
from recycling.queries.labels.spool_page import printed_with
from recycling.queries.people.tokens import digest_of
from recycling.queries.quality.verdicts import link_in_force
from recycling.records.quality.verdicts import PublicVerdictEntry, VerdictReceived
from recycling.tables.photos import Photo, redrawn
from shared import committed
from shared.errors import Collected

MOST_FROM_ADDRESS, MOST_FOR_SPOOL = 20, 50
"""Verdicts taken within an hour from one address, and for one spool."""


def verdict_receive(
    token: str, entry: PublicVerdictEntry, giver: str, address: str
) -> VerdictReceived:
    """Keep a verdict until the workshop has looked at it; the same again changes nothing.

    `giver` is the token that the browser kept from before, empty for none. The newest of each
    giver takes the place of the one before once it is accepted.

    Raises
    ------
    Unknown
        When the link is none, revoked or expired.
    TooOften
        When too many came from this address, or for this spool.
    Refused
        When a bad spool has no defect named, a text is too long, or the photo is none.
    """
    link = link_in_force(token)
    take_turn("verdict from", address, MOST_FROM_ADDRESS)
    take_turn("verdict for", str(link.lot_id), MOST_FOR_SPOOL)
    found = Collected()
    check_verdict(entry.good, entry.defects, entry.note, found)
    check_printed(entry.printed, found)
    found.refuse()
    photo = redrawn(entry.photo) if entry.photo else None
    giver = giver or secrets.token_urlsafe(16)
    return retried(partial(_keep, token, entry, photo, giver))


def _keep(
    token: str, entry: PublicVerdictEntry, photo: Photo | None, giver: str
) -> VerdictReceived:
    with transaction.atomic():
        link = link_in_force(token)
        lock_book(link.workshop_id)
        transaction.on_commit(committed.note)
        mine = Verdict.objects.filter(lot_id=link.lot_id, giver=digest_of(giver))
        before = mine.order_by("-given_at", "-pk").first()
        said = (entry.good, list(dict.fromkeys(entry.defects)), entry.note.strip())
        same = before and (before.good, before.defects, before.note) == said
        if before and same and photo is None and printed_with(before) == entry.printed:
            return VerdictReceived(link.lot.code, giver, False)
        mine.filter(state=Verdict.WAITING).delete()
        verdict = Verdict.objects.create(
            lot_id=link.lot_id,
            good=said[0],
            defects=said[1],
            note=said[2],
            nozzle_c=entry.printed.nozzle_c,
            bed_c=entry.printed.bed_c,
            speed_mm_s=entry.printed.speed_mm_s,
            giver=digest_of(giver),
            given_at=timezone.now(),
            state=Verdict.WAITING,
        )
        if photo:
            VerdictPhoto.objects.create(
                verdict=verdict, jpeg=photo.jpeg, width=photo.width, height=photo.height
            )
    return VerdictReceived(link.lot.code, giver, before is not None)
