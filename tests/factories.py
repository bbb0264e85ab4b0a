"""Things that tests need, made as people make them: through the services.

Each factory takes the fields of the entry it fills in and returns what its service returns.
Those inside a workshop take the ``actor`` who does it.

>>> WorkshopFactory._meta.model.__name__
'WorkshopEntry'
"""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from typing import Any

import factory

from recycling.queries.people.members import actor_named
from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.people import KeyEntry, MemberEntry, WorkshopEntry
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    PolymerEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)
from recycling.services.lots import origin_record
from recycling.services.people import workshops
from recycling.services.setup import register as setting_up

START = datetime(2024, 1, 8, 8, 0, tzinfo=UTC)
"""A Monday morning on which the books of the tests begin."""
PASSWORD = "swift-otter-crosses-42"
KG, G = 1_000_000, 1_000


class ByService(factory.Factory):
    """Hands a filled-in entry to ``serve``, under the actor where one acts."""

    class Meta:
        abstract = True

    @classmethod
    def _create(cls, model_class: type, *args: Any, **kwargs: Any) -> Any:
        actor = kwargs.pop("actor", None)
        entry = model_class(**kwargs)
        return cls.serve(entry) if actor is None else cls.serve(actor, entry)


class WorkshopFactory(ByService):
    """Open a workshop; returns its lead as an actor."""

    class Meta:
        model = WorkshopEntry

    name = factory.Sequence("Workshop {}".format)
    slug = factory.Sequence("workshop-{}".format)
    lead_name = "Ada"
    username = factory.Sequence("lead{}".format)
    password = PASSWORD
    serve = staticmethod(workshops.workshop_open)


class MemberFactory(ByService):
    """Take a person in; returns the new member as an actor."""

    class Meta:
        model = MemberEntry

    username = factory.Sequence("member{}".format)
    name = factory.Sequence("Member {}".format)
    role = "operator"
    password = PASSWORD

    @staticmethod
    def serve(actor: Actor, entry: MemberEntry) -> Actor:
        workshops.member_add(actor, entry)
        member = actor_named(actor.slug, entry.name)
        assert member is not None
        return member


class KeyFactory(ByService):
    class Meta:
        model = KeyEntry

    label = factory.Sequence("scale {}".format)
    serve = staticmethod(workshops.key_issue)


class SourceFactory(ByService):
    class Meta:
        model = SourceEntry

    name = factory.Sequence("Source {}".format)
    kind = "school"
    serve = staticmethod(setting_up.source_add)


class ProgrammeFactory(ByService):
    class Meta:
        model = ProgrammeEntry

    name = factory.Sequence("Programme {}".format)
    serve = staticmethod(setting_up.programme_add)


class MachineFactory(ByService):
    class Meta:
        model = MachineEntry

    name = factory.Sequence("Machine {}".format)
    kind = "shredder"
    serve = staticmethod(setting_up.machine_add)


class ScaleFactory(ByService):
    class Meta:
        model = ScaleEntry

    name = factory.Sequence("Scale {}".format)
    interval_mg = G
    capacity_mg = 15 * KG
    serve = staticmethod(setting_up.scale_add)


class ContainerFactory(ByService):
    class Meta:
        model = ContainerEntry

    name = factory.Sequence("Crate {}".format)
    tare_mg = 500 * G
    serve = staticmethod(setting_up.container_add)


class PolymerFactory(ByService):
    class Meta:
        model = PolymerEntry

    code = factory.Sequence("P{}".format)
    serve = staticmethod(setting_up.polymer_add)


class OriginFactory(ByService):
    """Record a purchase of bags, or with ``kind`` and ``source`` a collection."""

    class Meta:
        model = OriginEntry

    kind = "purchase"
    happened_at = START
    bags = (BagEntry(5 * KG),)
    serve = staticmethod(origin_record.origin_record)


def with_scope(actor: Actor, scope: str = "manage", role: str | None = None) -> Actor:
    """Return the same member with another key's scope, or another role."""
    return dataclasses.replace(actor, scope=scope, role=role or actor.role)


def said_of(done) -> list[str]:
    """Say what an answer doubts, in words."""
    return [doubt.said for doubt in done.doubts]
