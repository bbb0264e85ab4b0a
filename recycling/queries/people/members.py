"""Who somebody is in a workshop."""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from recycling.models import DeviceKey, Member, User, Workshop
from recycling.queries.people.names import earlier_names
from recycling.records.actors import Actor
from recycling.records.people import (
    EarlierNameRecord,
    KeyRecord,
    MemberRecord,
    WorkshopRecord,
)
from shared.errors import Unknown
from shared.roles import MANAGE, RECORD


@dataclass(frozen=True)
class Membership:
    """A workshop that somebody belongs to.

    Attributes
    ----------
    workshop, slug, role : str
        Its name, its short name in addresses, and the person's role there.
    """

    workshop: str
    slug: str
    role: str


def _actor(member: Member, scope: str = MANAGE) -> Actor:
    return Actor(
        member.workshop_id,
        member.workshop.name,
        member.workshop.slug,
        member.workshop.zone,
        member.pk,
        member.reference,
        member.name,
        member.role,
        scope,
    )


def member_actor(member: Member, scope: str) -> Actor:
    """Say as whom a member acts with a scope."""
    return _actor(member, scope)


def actors_of(user_id: int) -> list[Actor]:
    """Find who a person is in each workshop that they belong to, by the workshop's name."""
    return [_actor(member) for member in _members_of(user_id)]


def person(user_id: int) -> User | None:
    """Find an account with its actors, in one query for whoever belongs to a workshop."""
    members = list(_members_of(user_id).select_related("workshop", "user"))
    user = members[0].user if members else User.objects.filter(pk=user_id).first()
    if user:
        user.actors = [_actor(member) for member in members]
    return user


def _members_of(user_id: int) -> QuerySet[Member]:
    belonging = Member.objects.filter(user_id=user_id, left_at=None)
    return belonging.select_related("workshop").order_by("workshop__name")


def left_as(user_id: int, slug: str) -> str:
    """Say as whom the book knows a person who left a workshop; empty for anybody else."""
    left = Member.objects.filter(user_id=user_id, workshop__slug=slug, left_at__isnull=False)
    return "".join(str(one) for one in left.values_list("reference", flat=True))


def actor_for(user_id: int, slug: str) -> Actor | None:
    """Find a person's membership of a workshop; None when there is none."""
    return next((actor for actor in actors_of(user_id) if actor.slug == slug), None)


def actor_behind(workshop_id: int, reference: UUID) -> Actor | None:
    """Find the member whom the book knows by a reference, as long as they belong here."""
    members = Member.objects.select_related("workshop").filter(left_at=None)
    member = members.filter(workshop_id=workshop_id, reference=reference).first()
    return _actor(member, RECORD) if member else None


def actor_named(slug: str, name: str) -> Actor | None:
    """Find a member of a workshop by name, for the command line."""
    member = (
        Member.objects.select_related("workshop")
        .filter(name=name, workshop__slug=slug, left_at=None)
        .first()
    )
    return _actor(member) if member else None


def memberships(user_id: int) -> list[Membership]:
    """List the workshops that somebody belongs to, by name."""
    rows = Member.objects.filter(user_id=user_id, left_at=None).order_by("workshop__name")
    return [
        Membership(*row) for row in rows.values_list("workshop__name", "workshop__slug", "role")
    ]


def valid_key(secret: str) -> DeviceKey | None:
    """Find the key behind a secret; None when it is unknown, revoked or expired."""
    key = (
        DeviceKey.objects.select_related("member__workshop")
        .filter(prefix=secret[:11], revoked_at=None, expires_at__gt=timezone.now())
        .filter(member__left_at=None)
        .first()
    )
    digest = hashlib.sha256(secret.encode()).hexdigest()
    return key if key is not None and hmac.compare_digest(key.digest, digest) else None


def actor_for_key(secret: str) -> Actor | None:
    """Find whom a key acts for; None when it is unknown, revoked or expired."""
    key = valid_key(secret)
    return key_actor(key) if key else None


def key_actor(key: DeviceKey) -> Actor:
    """Say for whom, where and with which scope a key acts."""
    return _actor(key.member, key.scope)


def workshop(actor: Actor) -> WorkshopRecord:
    """Show the workshop itself."""
    row = Workshop.objects.get(pk=actor.workshop_id)
    return WorkshopRecord(row.name, row.slug, row.zone)


def members(actor: Actor, everything: bool = False) -> list[MemberRecord]:
    """List members by name; those who left too where everything is asked for."""
    rows = Member.objects.filter(workshop_id=actor.workshop_id).order_by("name")
    if not everything:
        rows = rows.filter(left_at=None)
    return [_member(row) for row in rows]


def _member(row: Member, earlier: list[EarlierNameRecord] | None = None) -> MemberRecord:
    active = row.left_at is None
    return MemberRecord(row.pk, row.name, row.role, active, row.is_erased, earlier or [])


def member(actor: Actor, member: int) -> MemberRecord:
    """Show one member, of now or of before; raises Unknown when there is none."""
    row = Member.objects.filter(workshop_id=actor.workshop_id, pk=member).first()
    if row is None:
        raise Unknown.because("member-unknown", "There is no such member in this workshop.")
    asked = actor.may("manage")
    return _member(row, earlier_names(row.workshop_id, f"member {row.pk}") if asked else [])


def keys(actor: Actor) -> list[KeyRecord]:
    """List keys: a lead sees all, others their own."""
    rows = DeviceKey.objects.filter(member__workshop_id=actor.workshop_id)
    if not actor.may("manage"):
        rows = rows.filter(member_id=actor.member_id)
    now = timezone.now()
    return [
        KeyRecord(
            key.pk,
            key.label,
            key.prefix,
            key.scope,
            key.member.name,
            key.created_at,
            key.expires_at,
            key.last_used_at,
            key.revoked_at is not None or key.expires_at <= now,
        )
        for key in rows.select_related("member").order_by("-pk")
    ]
