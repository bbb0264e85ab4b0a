"""Change a member's role, let a member go or come back, and make links to a new password.

Remove another member's second step at sign-in, as when a phone is lost.
"""

from __future__ import annotations

import secrets
from datetime import timedelta
from typing import Any

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.names import keep_earlier_name
from recycling.keeping.texts import check_text
from recycling.models import DeviceKey, Member, PasswordLink, SecondStep
from recycling.queries.people.members import member as member_record
from recycling.queries.people.tokens import digest_of
from recycling.records.actors import Actor
from recycling.records.people import MemberChange, MemberRecord
from shared.errors import Collected, Refused, Unknown
from shared.roles import LEAD, ROLES
from shared.said import say
from shared.texts import is_blank

LINK_HOURS = 24


def _member(actor: Actor, member_id: int) -> Member:
    row = Member.objects.filter(workshop_id=actor.workshop_id, pk=member_id).first()
    if row is None:
        raise Unknown.because("member-unknown", "There is no such member in this workshop.")
    return row


@deed("manage")
def member_change(actor: Actor, member: int, change: MemberChange) -> MemberRecord:
    """Give a member another name or role, let one go, or take one in again.

    Raises
    ------
    Refused
        When the name is missing, taken or was erased, the role is unknown, or no lead would be
        left.
    Unknown
        When there is no such member.
    """
    row = _member(actor, member)
    role = row.role if change.new_role is None else change.new_role
    active = row.left_at is None if change.active is None else change.active
    if role not in ROLES:
        known = say("One of {roles}.", roles=", ".join(ROLES))
        raise Refused.because("role-unknown", known, "/new_role")
    if not active or role != LEAD:
        _refuse_without_lead(actor, row)
    before: dict[str, Any] = {"role": row.role, "active": row.left_at is None}
    after: dict[str, Any] = {"role": role, "active": active}
    name = row.name if change.name is None else change.name.strip()
    if row.is_erased and (active or name != row.name):
        raise Refused.because("member-erased", "This person was erased; take them in anew.")
    if name != row.name:
        _check_name(row, name)
        number = keep_earlier_name(actor.workshop_id, f"member {row.pk}", row.name)
        before, after = before | {"name": number}, after | {"name": number + 1}
    row.name = name
    row.role, row.left_at = role, None if active else (row.left_at or timezone.now())
    row.save(update_fields=["name", "role", "left_at"])
    if not active:
        DeviceKey.objects.filter(member=row, revoked_at=None).update(revoked_at=timezone.now())
    keep_change(actor, f"member {row.pk}", "change", before, after)
    return member_record(actor, member)


def _check_name(row: Member, name: str) -> None:
    found, others = Collected(), Member.objects.filter(workshop_id=row.workshop_id)
    if is_blank(name):
        found.add("name-missing", "Give it a name.", "/name")
    check_text(name, "/name", found, 120)
    if others.exclude(pk=row.pk).filter(name=name).exists():
        found.add("name-taken", say("There is a member “{entry}” already.", entry=name), "/name")
    found.refuse()


def _refuse_without_lead(actor: Actor, row: Member) -> None:
    leads = Member.objects.filter(workshop_id=actor.workshop_id, role=LEAD, left_at=None)
    if row.role == LEAD and row.left_at is None and not leads.exclude(pk=row.pk).exists():
        raise Refused.because(
            "last-lead", "Make somebody else a lead first: a workshop needs one.", "/new_role"
        )


@deed("manage")
def password_link(actor: Actor, member: int) -> str:
    """Make a link by which a member sets a new password; return its token, shown this once.

    Raises
    ------
    Refused
        When the person has left, or belongs to a workshop of which the actor is no lead.
    Unknown
        When there is no such member.
    """
    row = _member(actor, member)
    if row.left_at is not None or row.user_id is None:
        raise Refused.because("member-left", "This person may not come in; take them in first.")
    if _belongs_elsewhere(actor, row.user_id):
        raise Refused.because(
            "member-elsewhere",
            "This person belongs to another workshop too; a lead of all of them makes the link.",
        )
    token, now = secrets.token_urlsafe(32), timezone.now()
    PasswordLink.objects.filter(member__user_id=row.user_id, used_at=None).update(used_at=now)
    PasswordLink.objects.create(
        member=row,
        digest=digest_of(token),
        created_at=now,
        created_by=actor.reference,
        expires_at=now + timedelta(hours=LINK_HOURS),
    )
    keep_change(actor, f"member {row.pk}", "password link", {}, {})
    return token


def _belongs_elsewhere(actor: Actor, user_id: int) -> bool:
    """Say whether a person belongs to a workshop of which the actor is no lead."""
    led = Member.objects.filter(user__memberships=actor.member_id, role=LEAD, left_at=None)
    others = Member.objects.filter(user_id=user_id, left_at=None)
    return others.exclude(workshop_id__in=led.values("workshop_id")).exists()


@deed("manage")
def second_step_remove(actor: Actor, member: int) -> MemberRecord:
    """Remove another member's second step at sign-in, with its recovery codes.

    Raises
    ------
    Refused
        When it is one's own, or the person belongs to a workshop of which the actor is no lead.
    Unknown
        When there is no such member, or no second step.
    """
    row = _member(actor, member)
    if row.pk == actor.member_id:
        raise Refused.because(
            "second-step-own", "Turn your own off on the page of your account, with a code."
        )
    kept = SecondStep.objects.filter(user__memberships=row.pk).first()
    if kept is None:
        raise Unknown.because("second-step-unknown", "There is no second step to turn off.")
    if _belongs_elsewhere(actor, kept.pk):
        raise Refused.because(
            "member-elsewhere",
            "This person belongs to another workshop too; a lead of all of them removes it.",
        )
    kept.delete()
    keep_change(actor, f"member {row.pk}", "second step removed", {}, {})
    return member_record(actor, member)
