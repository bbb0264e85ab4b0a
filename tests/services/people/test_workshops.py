"""Workshops, members and keys."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.models import DeviceKey, Member, Polymer, User, Workshop
from recycling.queries.people.members import actor_for, actor_for_key
from recycling.records.people import KeyEntry, MemberEntry
from recycling.services.people.workshops import key_issue, key_revoke, member_add
from tests.factories import PASSWORD, KeyFactory, MemberFactory, WorkshopFactory, with_scope
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


def test_a_workshop_opens_with_an_empty_book_and_its_lead():
    actor = WorkshopFactory(name=" Shed ", slug="shed", zone="Europe/Lisbon", username="ada")
    workshop = Workshop.objects.get(slug="shed")
    assert (workshop.name, workshop.zone, workshop.pk) == (
        "Shed",
        "Europe/Lisbon",
        actor.workshop_id,
    )
    assert (actor.role, actor.scope) == ("lead", "manage")
    assert set(Polymer.objects.values_list("code", flat=True)) >= {"PET", "HDPE", "purge"}
    assert User.objects.get(username="ada").check_password(PASSWORD)


@pytest.mark.parametrize(
    ("more", "code", "pointer"),
    [
        ({"name": " "}, "name-missing", "/name"),
        ({"name": "x" * 121}, "text-too-long", "/name"),
        ({"zone": "Mars/Olympus"}, "zone-unknown", "/zone"),
        ({"password": "short"}, "password-weak", "/password"),
        ({"password": "password123"}, "password-weak", "/password"),
        ({"slug": "no such slug"}, "slug-wrong", "/slug"),
        ({"slug": ""}, "slug-wrong", "/slug"),
        ({"slug": "x" * 41}, "slug-wrong", "/slug"),
        ({"lead_name": ""}, "name-missing", "/lead_name"),
        ({"lead_name": "x" * 121}, "text-too-long", "/lead_name"),
        ({"username": "x" * 151}, "text-too-long", "/username"),
    ],
    ids=str,
)
def test_a_workshop_that_cannot_be_opened_says_why(db, more, code, pointer):
    with refused(code, pointer=pointer):
        WorkshopFactory(**more)
    assert not Workshop.objects.exists() and not User.objects.exists()


def test_a_short_name_is_taken_once(lead):
    with refused("name-taken", pointer="/slug"):
        WorkshopFactory(slug=lead.slug)


def test_a_person_may_belong_to_several_workshops(lead):
    other = WorkshopFactory(username="ada")
    MemberFactory(actor=lead, username="ada", name="Ada L.", role="viewer", password="")
    user = User.objects.get(username="ada")
    assert user.memberships.count() == 2
    assert actor_for(user.pk, lead.slug).role == "viewer"
    assert actor_for(user.pk, other.slug).role == "lead"


@pytest.mark.parametrize(
    ("more", "code", "pointer"),
    [
        ({"role": "king"}, "role-unknown", "/role"),
        ({"username": " "}, "name-missing", "/username"),
        ({"name": ""}, "name-missing", "/name"),
        ({"name": "Bo"}, "name-taken", "/name"),
        ({"username": "bo"}, "member-exists", "/username"),
        ({"password": "short"}, "password-weak", "/password"),
        ({"name": "x" * 121}, "text-too-long", "/name"),
        ({"username": "x" * 151}, "text-too-long", "/username"),
    ],
    ids=str,
)
def test_a_member_who_cannot_be_taken_in_is_told_why(lead, more, code, pointer):
    MemberFactory(actor=lead, username="bo", name="Bo")
    entry = MemberEntry(**({"username": "cy", "name": "Cy", "role": "operator",
                            "password": PASSWORD} | more))  # fmt: skip
    with refused(code, pointer=pointer):
        member_add(lead, entry)
    assert Member.objects.count() == 2


def test_a_key_acts_for_its_member_and_only_its_hash_is_kept(lead):
    issued = key_issue(lead, KeyEntry("bench scale", "record", 30))
    key = DeviceKey.objects.get()
    assert issued.secret not in str(vars(key)) and issued.secret.startswith("rl_")
    assert key.digest == hashlib.sha256(issued.secret.encode()).hexdigest()
    actor = actor_for_key(issued.secret)
    assert (actor.member_id, actor.scope) == (lead.member_id, "record")
    assert abs(issued.expires_at - timezone.now() - timedelta(days=30)) < timedelta(minutes=1)
    assert actor_for_key(issued.secret[:-1] + "x") is None
    assert actor_for_key("") is None


def test_a_key_that_is_revoked_expired_or_whose_member_left_acts_for_nobody(lead):
    keys = [KeyFactory(actor=lead) for _ in range(3)]
    key_revoke(lead, keys[0].key)
    DeviceKey.objects.filter(pk=keys[1].key).update(expires_at=timezone.now())
    assert [actor_for_key(key.secret) is None for key in keys] == [True, True, False]
    Member.objects.update(left_at=timezone.now())
    assert actor_for_key(keys[2].secret) is None


@pytest.mark.parametrize(
    ("more", "code", "pointer"),
    [
        ({"scope": "all"}, "scope-unknown", "/scope"),
        ({"days": 0}, "number-out-of-bounds", "/days"),
        ({"days": 3651}, "number-out-of-bounds", "/days"),
        ({"label": " "}, "name-missing", "/label"),
        ({"label": "x" * 81}, "name-missing", "/label"),
        ({"member": "Nobody"}, "member-unknown", "/member"),
    ],
    ids=str,
)
def test_a_key_that_cannot_be_given_says_why(lead, more, code, pointer):
    with refused(code, pointer=pointer):
        key_issue(lead, KeyEntry(**({"label": "scale"} | more)))


def test_nobody_gives_a_key_that_does_more_than_they_may(lead):
    viewer = MemberFactory(actor=lead, role="viewer")
    for actor, scope in ((viewer, "record"), (viewer, "manage")):
        with refused("scope-unknown"):
            key_issue(actor, KeyEntry("scale", scope))
    assert key_issue(viewer, KeyEntry("screen", "read")).scope == "read"


def test_only_a_lead_gives_and_revokes_keys_of_others(lead):
    operator = MemberFactory(actor=lead, name="Bo")
    with refused("not-allowed", pointer="/member"):
        key_issue(operator, KeyEntry("scale", member="Ada"))
    mine, theirs = KeyFactory(actor=lead), KeyFactory(actor=lead, member="Bo")
    assert actor_for_key(theirs.secret).name == "Bo"
    with refused("key-unknown"):
        key_revoke(operator, mine.key)
    key_revoke(lead, theirs.key)
    with refused("key-unknown"):
        key_revoke(lead, theirs.key)


def test_another_workshops_keys_and_members_are_unknown(lead):
    other = WorkshopFactory()
    key = KeyFactory(actor=other)
    with refused("key-unknown"):
        key_revoke(lead, key.key)
    MemberFactory(actor=other, name="Zoe")
    with refused("member-unknown"):
        key_issue(lead, KeyEntry("scale", member="Zoe"))
    assert actor_for_key(key.secret) is not None


@pytest.mark.parametrize("scope", ["read", "record"])
def test_a_key_that_may_not_manage_gives_out_no_further_keys(lead, scope):
    with refused("not-allowed"):
        key_issue(with_scope(lead, scope), KeyEntry("another", scope="read", days=3650))
