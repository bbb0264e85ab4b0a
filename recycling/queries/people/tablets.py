"""Which shared tablet asks, who acts on it, and who may."""

from __future__ import annotations

from recycling.models import Member, MemberPin, SharedTablet, TabletRule
from recycling.queries.people.members import member_actor
from recycling.queries.people.tokens import digest_of
from recycling.records.actors import Actor
from recycling.records.people import LOCK_MINUTES, TabletHere, TabletRow
from shared.roles import RECORD


def tablet_of(token: str) -> TabletHere | None:
    """Find the tablet behind a token; None when it is none, or is revoked."""
    if not token or len(token) > 100:
        return None
    row = (
        SharedTablet.objects.filter(digest=digest_of(token), revoked_at=None)
        .values_list(
            "pk",
            "workshop_id",
            "workshop__slug",
            "workshop__name",
            "label",
            "workshop__tablet_rule__lock_minutes",
        )
        .first()
    )
    return TabletHere(*row[:5], row[5] or LOCK_MINUTES) if row else None


def tablet_actor(tablet: TabletHere, member_id: int) -> Actor | None:
    """Say as whom a member acts on a tablet: to record, never to manage."""
    member = (
        Member.objects.select_related("workshop")
        .filter(pk=member_id, workshop_id=tablet.workshop_id, left_at=None, pin__isnull=False)
        .first()
    )
    return member_actor(member, RECORD) if member else None


def people_with_pin(tablet: TabletHere) -> list[tuple[int, str]]:
    """List who can act on a tablet, by name."""
    people = Member.objects.filter(
        workshop_id=tablet.workshop_id, left_at=None, pin__isnull=False
    ).order_by("name")
    return list(people.values_list("pk", "name"))


def tablets(actor: Actor) -> list[TabletRow]:
    """List the shared tablets in use."""
    names = dict(
        Member.objects.filter(workshop_id=actor.workshop_id).values_list("reference", "name")
    )
    rows = SharedTablet.objects.filter(workshop_id=actor.workshop_id, revoked_at=None)
    columns = ("pk", "label", "created_by", "created_at", "last_used_at")
    return [
        TabletRow(pk, label, names.get(by, ""), created_at, used_at)
        for pk, label, by, created_at, used_at in rows.order_by("pk").values_list(*columns)
    ]


def lock_minutes(actor: Actor) -> int:
    """Say after how long the workshop's tablets lock."""
    rule = TabletRule.objects.filter(workshop_id=actor.workshop_id).first()
    return rule.lock_minutes if rule else LOCK_MINUTES


def has_pin(actor: Actor) -> bool:
    """Say whether a member has set a PIN here."""
    return MemberPin.objects.filter(member_id=actor.member_id).exists()
