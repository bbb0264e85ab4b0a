"""Keys for scripts, scales and meters."""

from __future__ import annotations

from django.urls import path

from api.protocol.answers import KeyRevoked
from api.protocol.bodies import NothingBody
from api.protocol.requests import Door, lists, records
from recycling.queries.setup.register import keys
from recycling.records.actors import Actor
from recycling.records.entries import KeyEntry
from recycling.records.recorded import KeyIssued
from recycling.records.setup.register import KeyRecord
from recycling.services.people.workshops import key_issue, key_revoke


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


urlpatterns = [
    path("keys/", KeysApi.as_view()),
    path("keys/<int:key>/revoke/", KeyRevokeApi.as_view()),
]
