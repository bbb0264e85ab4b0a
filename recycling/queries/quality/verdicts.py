"""Verdicts: which count, which wait to be looked at, and what the public page shows."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Exists, OuterRef
from django.utils import timezone

from recycling.models import Member, PublicLink, Verdict, VerdictPhoto
from recycling.queries.lots.lots import lot_of
from recycling.queries.lots.run_paths import in_chunks
from recycling.queries.paging import checked_limit, cursor_for, number_of
from recycling.queries.people.names import Names
from recycling.queries.people.tokens import digest_of_link, token_for
from recycling.records.actors import Actor
from recycling.records.paging import Page
from recycling.records.quality.verdicts import VERDICT_STATES, SpoolLink, VerdictToDecide
from shared.errors import Refused, Unknown
from shared.said import say

Said = tuple[int, str, str, bool, list[str]]
"""Lot, giver, state, good and defects of a verdict."""


def counted_verdicts(lot_ids: Iterable[int]) -> list[tuple[int, bool, list[str]]]:
    """List lot, good and defects of each verdict that counts: one for each giver and lot.

    That is the newest of the giver's that was decided on, where the decision was to count it.
    """
    said: list[Said] = []
    for chunk in in_chunks(lot_ids):
        rows = Verdict.objects.filter(lot_id__in=chunk).order_by("given_at", "pk")
        said += rows.values_list("lot_id", "giver", "state", "good", "defects")
    return counted_among(said)


def counted_among(said: Iterable[Said]) -> list[tuple[int, bool, list[str]]]:
    """Pick those that count from verdicts in the order in which they were given."""
    newest = {
        (lot_id, giver): (state, good, defects)
        for lot_id, giver, state, good, defects in said
        if state != Verdict.WAITING
    }
    return [
        (lot_id, good, defects)
        for (lot_id, _), (state, good, defects) in newest.items()
        if state == Verdict.COUNTED
    ]


def link_in_force(token: str) -> PublicLink:
    """Find the link behind a token, or say that there is none."""
    link = (
        PublicLink.objects.select_related("lot__spool", "lot__account", "lot__made_by", "workshop")
        .filter(digest=digest_of_link(token), revoked_at=None, expires_at__gt=timezone.now())
        .first()
    )
    if link is None:
        raise Unknown.because(
            "link-unknown", "This address opens nothing, or does not any more. Ask the workshop."
        )
    return link


def spool_link(actor: Actor, code: str) -> SpoolLink:
    """Show the public link of a spool; its token is empty where none is in force."""
    lot = lot_of(actor, code)
    link = PublicLink.objects.filter(lot=lot, revoked_at=None).first()
    if link is None or link.expires_at <= timezone.now():
        return SpoolLink(lot.code, "", None, None)
    token = token_for(link.seed)
    readable = token if digest_of_link(token) == link.digest else ""
    return SpoolLink(lot.code, readable, link.created_at, link.expires_at)


def verdicts_page(
    actor: Actor, state: str = "waiting", after: str = "", limit: int = 50
) -> Page[VerdictToDecide]:
    """List verdicts in a state, newest first.

    Raises
    ------
    Refused
        When the state is none.
    """
    if state not in VERDICT_STATES:
        raise Refused.because(
            "choice-wrong",
            say("One of {verdict_states}.", verdict_states=", ".join(VERDICT_STATES)),
        )
    rows = Verdict.objects.filter(lot__workshop_id=actor.workshop_id, state=state)
    before, limit = number_of(after), checked_limit(limit)
    if before is not None:
        rows = rows.filter(pk__lt=before)
    earlier = Verdict.objects.filter(
        lot_id=OuterRef("lot_id"), giver=OuterRef("giver"), pk__lt=OuterRef("pk")
    )
    rows = rows.select_related("lot", "photo").annotate(changed=Exists(earlier))
    found = list(rows.order_by("-pk")[: limit + 1])
    more = cursor_for(found[limit - 1].pk) if len(found) > limit else ""
    names = Names(actor.workshop_id)
    members = _members(actor.workshop_id)
    return Page(tuple(_to_decide(one, names, members) for one in found[:limit]), more)


def waiting_count(actor: Actor) -> int:
    """Count the verdicts that wait to be looked at."""
    rows = Verdict.objects.filter(lot__workshop_id=actor.workshop_id, state=Verdict.WAITING)
    return rows.count()


def _members(workshop_id: int) -> dict[str, str]:
    rows = Member.objects.filter(workshop_id=workshop_id).values_list("reference", "name")
    return {str(reference): name for reference, name in rows}


def _to_decide(one: Verdict, names: Names, members: dict[str, str]) -> VerdictToDecide:
    return VerdictToDecide(
        one.pk,
        one.lot.code,
        one.good,
        tuple(one.defects),
        one.note,
        one.given_at,
        one.state,
        members.get(one.giver, ""),
        one.changed,  # type: ignore[attr-defined]
        hasattr(one, "photo"),
        names.of(one.decided_by),
        one.decision_reason,
        one.decided_at,
    )


def verdict_photo(actor: Actor, verdict_id: int) -> bytes:
    """Read the photo that came with a verdict, as JPEG.

    Raises
    ------
    Unknown
        When there is none in this workshop.
    """
    photo = VerdictPhoto.objects.filter(
        verdict_id=verdict_id, verdict__lot__workshop_id=actor.workshop_id
    ).first()
    if photo is None:
        raise Unknown.because("photo-unknown", "There is no such photo in this workshop.")
    return bytes(photo.jpeg)
