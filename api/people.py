"""The workshop itself, its members, and keys for scripts, scales and meters."""

from __future__ import annotations

from django.urls import path

from api.protocol.answers import KeyRevoked
from api.protocol.bodies import NothingBody
from api.protocol.requests import Changing, Door, lists, records, shows
from recycling.queries.people import members
from recycling.queries.people.members import keys
from recycling.records.actors import Actor
from recycling.records.people import (
    KeyEntry,
    KeyRecord,
    MemberChange,
    MemberRecord,
    WorkshopChange,
    WorkshopRecord,
)
from recycling.records.recorded import KeyIssued
from recycling.services.people import members as people
from recycling.services.people.erasures import member_erase
from recycling.services.people.workshops import key_issue, key_revoke, workshop_change


class KeysApi(Door):
    needs = {"GET": "read", "POST": "key"}

    @lists(KeyRecord)
    def get(self, actor: Actor) -> list[KeyRecord]:
        """List keys: a lead sees all, others their own."""
        return keys(actor)

    @records(KeyEntry, KeyIssued, once_only={"secret": ""})
    def post(self, actor: Actor, entry: KeyEntry) -> KeyIssued:
        """Give out a key; its secret is in the first answer only, a repeat has it empty."""
        return key_issue(actor, entry)


class KeyRevokeApi(Door):
    needs = {"POST": "key"}

    @records(NothingBody, KeyRevoked, status=200)
    def post(self, actor: Actor, body: NothingBody, key: int) -> KeyRevoked:
        """Revoke a key: one's own, or any as a lead."""
        return KeyRevoked(key_revoke(actor, key))


class WorkshopApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(WorkshopRecord, tagged=True)
    def get(self, actor: Actor) -> WorkshopRecord:
        """Show the workshop itself."""
        return members.workshop(actor)

    @records(WorkshopChange, WorkshopRecord, 200, guard=members.workshop)
    def patch(self, actor: Actor, change: WorkshopChange) -> WorkshopRecord:
        """Change what the workshop is called, and its time zone."""
        return workshop_change(actor, change)


class MemberApi(Changing):
    needs = {"GET": "read", "PATCH": "manage"}

    @shows(MemberRecord, tagged=True)
    def get(self, actor: Actor, member: int) -> MemberRecord:
        """Show a member."""
        return members.member(actor, member)

    @records(MemberChange, MemberRecord, 200, guard=members.member)
    def patch(self, actor: Actor, change: MemberChange, member: int) -> MemberRecord:
        """Give a member another role, let one go, or take one in again."""
        return people.member_change(actor, member, change)


class MemberErasureApi(Door):
    needs = {"POST": "manage"}

    @records(NothingBody, MemberRecord, status=200)
    def post(self, actor: Actor, body: NothingBody, member: int) -> MemberRecord:
        """Erase a member who has left: name, account, keys and PIN; a number stays."""
        return member_erase(actor, member)


class MembersApi(Door):
    needs = {"GET": "read"}

    @lists(MemberRecord)
    def get(self, actor: Actor) -> list[MemberRecord]:
        """List the members of the workshop by name."""
        return members.members(actor)


urlpatterns = [
    path("keys/", KeysApi.as_view()),
    path("keys/<int:key>/revoke/", KeyRevokeApi.as_view()),
    path("workshop/", WorkshopApi.as_view()),
    path("members/<int:member>/erasure/", MemberErasureApi.as_view()),
    path("members/<int:member>/", MemberApi.as_view()),
    path("members/", MembersApi.as_view()),
]
