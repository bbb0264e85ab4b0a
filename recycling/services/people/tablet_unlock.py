"""Let a member act on a shared tablet by their PIN."""

from __future__ import annotations

from functools import partial

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import retried
from recycling.keeping.limits import forget_turns, give_back, take_turn
from recycling.models import ChangeEvent, Member, MemberPin, SharedTablet
from recycling.queries.people.tablets import tablet_actor, tablet_of
from recycling.records.actors import Actor
from recycling.records.people import TabletHere
from shared.errors import Refused, TooOften, Unknown

MOST_WRONG, MOST_AT_TABLET = 5, 30
"""Wrong PINs within an hour for one member, and at one tablet whoever was chosen."""
LONGEST_PIN = 8
OF_MEMBER, AT_TABLET = "wrong PIN of", "wrong PIN at"


def tablet_unlock(token: str, member_id: int, pin: str) -> Actor:
    """Check a PIN and say as whom the tablet acts from now on.

    A try is counted before the PIN is looked at, so that tries at once count too; one that is
    right is taken off again.

    Raises
    ------
    Unknown
        When the device is no shared tablet, or no longer.
    TooOften
        When PINs were wrong too often within the hour.
    Refused
        When the PIN is wrong, or is that of no member of the tablet's workshop.
    """
    tablet = tablet_of(token)
    if tablet is None:
        raise Unknown.because("tablet-unknown", "This device is no shared tablet any more.")
    whose = f"{tablet.workshop_id} {member_id}"
    try:
        take_turn(AT_TABLET, str(tablet.id), MOST_AT_TABLET)
        take_turn(OF_MEMBER, whose, MOST_WRONG)
    except TooOften as often:
        raise TooOften.because(
            "pin-locked",
            "PINs were wrong too often. Wait up to an hour, or sign in with your password.",
            "/pin",
        ) from often
    kept = MemberPin.objects.filter(
        member_id=member_id, member__workshop_id=tablet.workshop_id, member__left_at=None
    ).first()
    given = pin if pin.isascii() and pin.isdigit() and len(pin) <= LONGEST_PIN else ""
    right = check_password(given, kept.digest if kept else make_password("0"))
    if kept is None or not given or not right:
        retried(partial(_note_wrong, tablet, member_id))
        raise Refused.because("pin-wrong", "This PIN is not right.", "/pin")
    give_back(AT_TABLET, str(tablet.id))
    forget_turns(OF_MEMBER, whose)
    return retried(partial(_unlock, tablet, member_id))


def _unlock(tablet: TabletHere, member_id: int) -> Actor:
    with transaction.atomic():
        actor = tablet_actor(tablet, member_id)
        if actor is None:
            raise Unknown.because("tablet-unknown", "You are no longer in this workshop.")
        SharedTablet.objects.filter(pk=tablet.id).update(last_used_at=timezone.now())
        keep_change(actor, f"tablet {tablet.id}", "unlock", {}, {})
    return actor


def _note_wrong(tablet: TabletHere, member_id: int) -> None:
    if Member.objects.filter(pk=member_id, workshop_id=tablet.workshop_id).exists():
        ChangeEvent.objects.create(
            workshop_id=tablet.workshop_id,
            subject=f"member {member_id}",
            deed="wrong PIN",
            after={"tablet": tablet.id},
            written_at=timezone.now(),
        )
