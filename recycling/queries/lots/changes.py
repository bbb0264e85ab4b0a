"""The history of a thing's facts: what they were, what they became, who changed them and why."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.utils.functional import cached_property

from recycling.models import ChangeEvent, Programme, Source
from recycling.queries.people.names import Names
from recycling.records.lots.changes import ChangeRow

RENAMED = {"source_id": "source", "programme_id": "programme"}


def changes_of(workshop_id: int, subject: str) -> tuple[ChangeRow, ...]:
    """List what was changed of a thing in the order it was written, facts of a change by name.

    A database may keep the facts of one change in an order of its own.
    """
    events = ChangeEvent.objects.filter(workshop_id=workshop_id, subject=subject)
    behind = _Behind(workshop_id)
    return tuple(
        ChangeRow(
            RENAMED.get(fact, fact),
            behind.said(fact, event.before.get(fact, "")),
            behind.said(fact, event.after.get(fact, "")),
            event.reason,
            behind.people.of(event.actor),
            event.written_at,
            event.written_at + timedelta(minutes=settings.UNDO_MINUTES),
        )
        for event in events.order_by("pk")
        for fact in sorted({*event.before, *event.after})
    )


class _Behind:
    """Names behind the numbers that a history keeps, read when first asked for."""

    def __init__(self, workshop_id: int) -> None:
        self.workshop_id = workshop_id
        self.people = Names(workshop_id)
        self._ways: dict[str, Callable[[str], str]] = {
            "source_id": lambda pk: self._sources.get(int(pk), ""),
            "programme_id": lambda pk: self._programmes.get(int(pk), ""),
            "received_by": self._people,
            "operators": self._people,
        }

    def said(self, fact: str, value: Any) -> str:
        """Say a kept value in words of today."""
        text = "" if value is None else str(value)
        way = self._ways.get(fact)
        return way(text) if way and text else text

    def _people(self, text: str) -> str:
        return ", ".join(self.people.of(UUID(one)) for one in text.split())

    @cached_property
    def _sources(self) -> dict[int, str]:
        rows = Source.objects.filter(workshop_id=self.workshop_id)
        return dict(rows.values_list("pk", "name"))

    @cached_property
    def _programmes(self) -> dict[int, str]:
        rows = Programme.objects.filter(workshop_id=self.workshop_id)
        return dict(rows.values_list("pk", "name"))
