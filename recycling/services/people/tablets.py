"""Make a device a shared tablet, take it back, say when it locks, and set one's own PIN."""

from __future__ import annotations

import re
import secrets

from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed, refuse_unless_may
from recycling.keeping.limits import own_password
from recycling.models import Member, MemberPin, SharedTablet, TabletRule
from recycling.queries.people.tablets import lock_minutes
from recycling.queries.people.tokens import digest_of
from recycling.records.actors import Actor
from recycling.records.people import TabletIssued
from shared.errors import Refused, Unknown
from shared.texts import is_blank

PIN = re.compile("[0-9]{4,8}", re.ASCII)
RISING, FALLING = "01234567890", "09876543210"
LONGEST_LOCK_MINUTES = 60


@deed("manage")
def tablet_add(actor: Actor, label: str) -> TabletIssued:
    """Make a device a shared tablet; the token goes into its cookie, only a hash stays here.

    Raises
    ------
    Refused
        When it has no name.
    """
    label = label.strip()
    if is_blank(label) or len(label) > 80:
        raise Refused.because(
            "name-missing", "Give the tablet a name of up to 80 characters.", "/label"
        )
    token = secrets.token_urlsafe(32)
    tablet = SharedTablet.objects.create(
        workshop_id=actor.workshop_id,
        label=label,
        digest=digest_of(token),
        created_at=timezone.now(),
        created_by=actor.reference,
    )
    keep_change(actor, f"tablet {tablet.pk}", "add", {}, {"label": label})
    return TabletIssued(tablet.pk, token)


@deed("manage")
def tablet_revoke(actor: Actor, tablet_id: int) -> int:
    """Take a shared tablet back: its cookie opens nothing from the next request on.

    Raises
    ------
    Unknown
        When there is no such tablet in use.
    """
    tablets = SharedTablet.objects.filter(
        pk=tablet_id, workshop_id=actor.workshop_id, revoked_at=None
    )
    if not tablets.update(revoked_at=timezone.now()):
        raise Unknown.because("tablet-unknown", "There is no such tablet in use.")
    keep_change(actor, f"tablet {tablet_id}", "revoke", {}, {})
    return tablet_id


@deed("manage")
def lock_time_set(actor: Actor, minutes: int) -> int:
    """Say after how many minutes untouched a tablet asks who is acting.

    Raises
    ------
    Refused
        When it is not from 1 to 60 minutes.
    """
    if not 1 <= minutes <= LONGEST_LOCK_MINUTES:
        raise Refused.because("number-out-of-bounds", "From 1 to 60 minutes.", "/minutes")
    before = {"lock_minutes": lock_minutes(actor)}
    TabletRule.objects.update_or_create(
        workshop_id=actor.workshop_id, defaults={"lock_minutes": minutes}
    )
    keep_change(actor, "tablets", "lock time", before, {"lock_minutes": minutes})
    return minutes


def pin_set(actor: Actor, password: str, pin: str) -> int:
    """Set one's own PIN for shared tablets of this workshop; the password says that it is oneself.

    A try of the password commits by itself before anything else, so that it counts whatever is
    refused. The same PIN again changes nothing.

    Raises
    ------
    TooOften
        When the password was wrong too often within the hour.
    Refused
        When the password is wrong, or the PIN is none or too easy to guess.
    """
    refuse_unless_may(actor, "key")
    member = Member.objects.select_related("user").get(pk=actor.member_id)
    if member.user is None:
        raise Refused.because("password-wrong", "This is not your password.", "/password")
    own_password(member.user, password)
    return _pin_keep(actor, pin)


@deed("key")
def _pin_keep(actor: Actor, pin: str) -> int:
    if not PIN.fullmatch(pin):
        raise Refused.because("pin-unreadable", "A PIN is 4 to 8 digits.", "/pin")
    if len(set(pin)) == 1 or pin in RISING or pin in FALLING:
        raise Refused.because(
            "pin-weak", "Not one digit over and over, nor digits in order.", "/pin"
        )
    kept = MemberPin.objects.filter(member_id=actor.member_id).first()
    if kept is None or not check_password(pin, kept.digest):
        MemberPin.objects.update_or_create(
            member_id=actor.member_id,
            defaults={"digest": make_password(pin), "set_at": timezone.now()},
        )
        keep_change(actor, f"member {actor.member_id}", "set PIN", {}, {})
    return actor.member_id


@deed("key")
def pin_remove(actor: Actor) -> int:
    """Remove one's own PIN; one can no longer act on shared tablets.

    Raises
    ------
    Unknown
        When none is set.
    """
    removed, _kinds = MemberPin.objects.filter(member_id=actor.member_id).delete()
    if not removed:
        raise Unknown.because("pin-unknown", "You have set no PIN here.")
    keep_change(actor, f"member {actor.member_id}", "remove PIN", {}, {})
    return actor.member_id
