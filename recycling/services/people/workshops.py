"""Open a workshop, take members in, and give out keys for devices."""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import asdict
from datetime import timedelta
from typing import Any
from zoneinfo import available_timezones

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.texts import check_text
from recycling.ledger.post import open_book
from recycling.models import DeviceKey, Member, Polymer, User, Workshop
from recycling.queries.people.members import workshop
from recycling.records.actors import Actor
from recycling.records.people import (
    KeyEntry,
    MemberEntry,
    WorkshopChange,
    WorkshopEntry,
    WorkshopRecord,
)
from recycling.records.recorded import KeyIssued
from recycling.records.setup.practice import NOT_CHECKED
from shared.errors import Collected, Refused, Unknown
from shared.roles import LEAD, ROLES, SCOPES, may
from shared.said import say
from shared.texts import is_blank

SLUG = re.compile("[a-z0-9_-]{1,40}")
FIRST_POLYMERS = (
    ("PET", "poly(ethylene terephthalate)", 1, 1.38),
    ("HDPE", "high-density polyethylene", 2, 0.95),
    ("PP", "polypropylene", 5, 0.90),
    ("PLA", "polylactide", 7, 1.24),
    ("purge", "purge compound", None, None),
)
"""Symbols of ISO 1043-1, resin codes of ASTM D7611; densities are first settings."""


@transaction.atomic
def workshop_open(entry: WorkshopEntry) -> Actor:
    """Open a workshop with an empty book and its first lead, and return that lead.

    Raises
    ------
    Refused
        When the short name is taken, the zone unknown, or the password too weak.
    """
    found = Collected()
    _check_names(entry, {"name": 120, "lead_name": 120, "username": 150}, found)
    if not SLUG.fullmatch(entry.slug):
        found.add("slug-wrong", "Up to 40 small letters, digits, dashes and underscores.", "/slug")
    if Workshop.objects.filter(slug=entry.slug).exists():
        found.add("name-taken", say("The short name “{slug}” is taken.", slug=entry.slug), "/slug")
    if entry.zone not in available_timezones():
        found.add("zone-unknown", "Use a name such as Europe/Lisbon.", "/zone")
    found.refuse()
    workshop = Workshop.objects.create(
        book=open_book(), name=entry.name.strip(), slug=entry.slug, zone=entry.zone
    )
    Polymer.objects.bulk_create(
        Polymer(
            workshop=workshop,
            code=code,
            name=name,
            resin_code=resin,
            density_g_cm3=density,
            density_source=NOT_CHECKED if density else "",
        )
        for code, name, resin, density in FIRST_POLYMERS
    )
    user = _user(entry.username, entry.password)
    member = Member.objects.create(workshop=workshop, user=user, name=entry.lead_name, role=LEAD)
    return Actor(
        workshop.pk,
        workshop.name,
        workshop.slug,
        workshop.zone,
        member.pk,
        member.reference,
        member.name,
        member.role,
    )


def _check_names(entry: Any, longest: dict[str, int], found: Collected) -> None:
    for name, length in longest.items():
        text = getattr(entry, name)
        if is_blank(text):
            found.add("name-missing", "Give it a name.", f"/{name}")
        check_text(text, f"/{name}", found, length)


def _user(username: str, password: str | None) -> User:
    user = User.objects.filter(username=username).first()
    if user is not None:
        return user
    try:
        if password is not None:
            validate_password(password)
    except ValidationError as error:
        raise Refused.because("password-weak", " ".join(error.messages), "/password") from error
    return User.objects.create_user(username=username, password=password)


@deed("manage")
def member_add(actor: Actor, entry: MemberEntry) -> int:
    """Take a person in; one who has an account here keeps it. Returns the membership's id.

    Somebody new without a password comes in by a link, by which they set their own.

    Raises
    ------
    Refused
        When the role is unknown, the name or person is in already, or the password too weak.
    """
    found, members = Collected(), Member.objects.filter(workshop_id=actor.workshop_id)
    if entry.role not in ROLES:
        found.add("role-unknown", say("One of {roles}.", roles=", ".join(ROLES)), "/role")
    _check_names(entry, {"name": 120, "username": 150}, found)
    if members.filter(user__username=entry.username).exists():
        found.add(
            "member-exists",
            say("{username} is a member already.", username=entry.username),
            "/username",
        )
    if members.filter(name=entry.name).exists():
        found.add(
            "name-taken", say("There is a member “{entry}” already.", entry=entry.name), "/name"
        )
    found.refuse()
    member = Member.objects.create(
        workshop_id=actor.workshop_id,
        user=_user(entry.username, entry.password or None),
        name=entry.name,
        role=entry.role,
    )
    keep_change(actor, f"member {member.pk}", "add", {}, {"role": entry.role})
    return member.pk


@deed("key")
def key_issue(actor: Actor, entry: KeyEntry) -> KeyIssued:
    """Give out a key; it is shown once and only its hash is kept.

    Raises
    ------
    Refused
        When the scope or time is out of bounds, or a key for somebody else is asked by no lead.
    """
    found = Collected()
    if entry.scope not in SCOPES or not may(entry.scope, actor.role, actor.scope):
        found.add(
            "scope-unknown",
            say("One of {scopes} that you have.", scopes=", ".join(SCOPES)),
            "/scope",
        )
    if not 1 <= entry.days <= 3650:
        found.add("number-out-of-bounds", "From 1 to 3650 days.", "/days")
    if is_blank(entry.label) or len(entry.label) > 80:
        found.add("name-missing", "Say what the key is for, in up to 80 characters.", "/label")
    found.refuse()
    member = _holder(actor, entry.member)
    secret = f"rl_{secrets.token_hex(4)}_{secrets.token_urlsafe(32)}"
    now = timezone.now()
    key = DeviceKey.objects.create(
        member=member,
        label=entry.label.strip(),
        prefix=secret[:11],
        digest=hashlib.sha256(secret.encode()).hexdigest(),
        scope=entry.scope,
        created_at=now,
        expires_at=now + timedelta(days=entry.days),
    )
    keep_change(actor, f"key {key.pk}", "issue", {}, {"scope": entry.scope, "label": key.label})
    return KeyIssued(key.pk, secret, key.scope, key.expires_at)


def _holder(actor: Actor, name: str) -> Member:
    if name and name != actor.name and not actor.may("manage"):
        raise Refused.because("not-allowed", "Only a lead gives keys to others.", "/member")
    wanted = {"name": name} if name else {"pk": actor.member_id}
    member = Member.objects.filter(workshop_id=actor.workshop_id, left_at=None, **wanted).first()
    if member is None:
        raise Unknown.because(
            "member-unknown", say("There is no member “{name}” here.", name=name), "/member"
        )
    return member


@deed("key")
def key_revoke(actor: Actor, key_id: int) -> int:
    """Revoke a key: one's own, or any as a lead.

    Raises
    ------
    Unknown
        When there is no such key that this person may revoke.
    """
    keys = DeviceKey.objects.filter(
        pk=key_id, member__workshop_id=actor.workshop_id, revoked_at=None
    )
    if not actor.may("manage"):
        keys = keys.filter(member_id=actor.member_id)
    if not keys.update(revoked_at=timezone.now()):
        raise Unknown.because("key-unknown", "There is no such key in use.")
    keep_change(actor, f"key {key_id}", "revoke", {}, {})
    return key_id


@deed("manage")
def workshop_change(actor: Actor, change: WorkshopChange) -> WorkshopRecord:
    """Change what the workshop is called, and the zone that its times are shown in.

    Raises
    ------
    Refused
        When the name is missing or too long, or the zone unknown.
    """
    row, found = Workshop.objects.get(pk=actor.workshop_id), Collected()
    given = {name: value.strip() for name, value in asdict(change).items() if value is not None}
    if not given.get("name", row.name):
        found.add("name-missing", "Give it a name.", "/name")
    check_text(given.get("name", ""), "/name", found, 120)
    if given.get("zone", row.zone) not in available_timezones():
        found.add("zone-unknown", "Use a name such as Europe/Lisbon.", "/zone")
    found.refuse()
    before = {name: getattr(row, name) for name in given if getattr(row, name) != given[name]}
    if before:
        for name in before:
            setattr(row, name, given[name])
        row.save(update_fields=list(before))
        after = {name: given[name] for name in before}
        keep_change(actor, "workshop", "change", before, after)
    return workshop(actor)
