"""Erase the name of a member or of somebody who gave; a number stands in its place.

Masses, entries and frozen reports stay as they are: the book knows people by a random reference,
and a report keeps what it said.
"""

from __future__ import annotations

from pathlib import Path

from axes.models import AccessAttempt, AccessLog
from django.db import transaction
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.names import MEMBER, SOURCE, forget_names, note_erasure, read_erasures
from recycling.models import DeviceKey, Erasure, Member, MemberPin, PasswordLink, Source
from recycling.queries.people.members import member as member_record
from recycling.queries.setup.register import source as source_record
from recycling.records.actors import Actor
from recycling.records.people import MemberRecord
from recycling.records.setup.register import SourceRecord
from shared.errors import Refused, Unknown


@deed("manage")
def member_erase(actor: Actor, member: int) -> MemberRecord:
    """Erase a member who has left: name, account, keys and PIN; entries name a number.

    An account that belongs to another workshop too stays there.

    Raises
    ------
    Refused
        When the person may still come in.
    Unknown
        When there is no such member.
    """
    row = Member.objects.filter(workshop_id=actor.workshop_id, pk=member).first()
    if row is None:
        raise Unknown.because("member-unknown", "There is no such member in this workshop.")
    if row.left_at is None:
        raise Refused.because(
            "member-active", "This person may still come in. Let them go first, then erase them."
        )
    if not row.is_erased:
        _forget_member(row)
        note_erasure(actor.workshop_id, MEMBER, str(row.reference))
        keep_change(actor, f"member {row.pk}", "erase", {}, {"name": row.name})
    return member_record(actor, member)


@deed("manage")
def source_erase(actor: Actor, source: int) -> SourceRecord:
    """Erase who gave: name and note; collections name a number, and it is offered no more.

    Raises
    ------
    Unknown
        When there is no such source.
    """
    row = Source.objects.filter(workshop_id=actor.workshop_id, pk=source).first()
    if row is None:
        raise Unknown.because("source-unknown", "There is no such source in this workshop.")
    if not row.is_erased:
        _forget_source(row)
        note_erasure(actor.workshop_id, SOURCE, str(row.pk))
        keep_change(actor, f"source {row.pk}", "erase", {}, {"name": row.name})
    return source_record(actor, source)


def erasures_replay(path: Path) -> int:
    """Erase again whom a restored backup brought back; return how many that were.

    Raises
    ------
    ValueError
        When the file holds something else.
    """
    count = 0
    with transaction.atomic():
        for one in read_erasures(path):
            Erasure.objects.get_or_create(**one, defaults={"erased_at": timezone.now()})
            if one["kind"] == MEMBER:
                members = Member.objects.filter(workshop__identity=one["workshop"])
                for member in members.filter(reference=one["identity"], is_erased=False):
                    _forget_member(member)
                    count += 1
            else:
                sources = Source.objects.filter(workshop__identity=one["workshop"])
                for source in sources.filter(pk=one["identity"], is_erased=False):
                    _forget_source(source)
                    count += 1
    return count


def _forget_member(row: Member) -> None:
    forget_names(row.workshop_id, f"{MEMBER} {row.pk}", row.name)
    for model in (DeviceKey, MemberPin, PasswordLink):
        model._default_manager.filter(member=row).delete()
    user, row.user = row.user, None
    row.name, row.is_erased, row.left_at = f"№ {row.pk}", True, row.left_at or timezone.now()
    row.save(update_fields=["name", "user", "is_erased", "left_at"])
    if user is not None and not user.memberships.exists():
        for log in (AccessAttempt, AccessLog):
            log.objects.filter(username=user.username).delete()
        user.delete()


def _forget_source(row: Source) -> None:
    forget_names(row.workshop_id, f"{SOURCE} {row.pk}", row.name)
    row.name, row.note, row.may_be_named, row.is_erased = f"№ {row.pk}", "", False, True
    row.retired_at = row.retired_at or timezone.now()
    row.save(update_fields=["name", "note", "may_be_named", "is_erased", "retired_at"])
    row.collections.exclude(consent="").update(consent="")
