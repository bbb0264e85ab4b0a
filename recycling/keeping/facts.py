"""Facts that move no mass are changed in place; what they were stays readable, with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from recycling.keeping.changes import keep_change
from recycling.models import Run
from recycling.records.actors import Actor
from shared.errors import Refused
from shared.said import say

FACTS = "facts"


class Facts:
    """What is put right of one thing, gathered and then kept as one change.

    People, sources and programmes stand in it by number, so that a name can be erased.
    """

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self.before: dict[str, str] = {}
        self.after: dict[str, str] = {}

    def note(self, fact: str, before: Any, after: Any) -> bool:
        """Note a fact that is another than before; return whether it is."""
        was, now = said(before), said(after)
        if was != now:
            self.before[fact], self.after[fact] = was, now
        return was != now

    def set(self, row: Any, given: Mapping[str, Any]) -> None:
        """Change the fields of a row that are other than before."""
        changed = [
            name for name, value in given.items() if self.note(name, getattr(row, name), value)
        ]
        for name in changed:
            setattr(row, name, given[name])
        if changed:
            row.save(update_fields=changed)

    def keep(self, actor: Actor, reason: str) -> None:
        """Store the change; refuses when everything is as the book says already."""
        if not self.before:
            raise Refused.because("nothing-changed", "This is what the book says already.", "")
        keep_change(actor, self.subject, FACTS, self.before, self.after, reason)


def said(value: Any) -> str:
    """Write a fact as a change keeps it."""
    if value is None:
        return ""
    return value.isoformat() if isinstance(value, datetime) else str(value)


def given_of(change: Any, names: tuple[str, ...]) -> dict[str, Any]:
    """Return the named fields of a change that are given, texts trimmed."""
    given = {name: getattr(change, name) for name in names}
    return {
        name: value.strip() if isinstance(value, str) else value
        for name, value in given.items()
        if value is not None
    }


def refuse_void(run: Run) -> None:
    """Refuse to put right what does not count any more."""
    if run.state == Run.VOID:
        raise Refused.because(
            "run-void", say("Run {run} was voided; record it anew.", run=run.code)
        )
