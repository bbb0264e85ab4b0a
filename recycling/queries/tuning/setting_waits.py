"""The wait after the last change of a setting in a run that goes on."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from recycling.queries.runs.runs import run_page
from recycling.queries.setup.practice import practice_rows
from recycling.records.actors import Actor
from recycling.records.runs.runs import RunRecord
from recycling.records.tuning import Wait


def run_wait(actor: Actor, code: str) -> Wait | None:
    """Give the wait after the last change of a setting in an open run; None without one.

    Raises
    ------
    Unknown
        When there is no such run.
    """
    return wait_in(actor, run_page(actor, code))


def wait_in(actor: Actor, run: RunRecord) -> Wait | None:
    """Give the wait in a run that was read already; one query, and none where nothing waits."""
    if run.state != "open" or not run.settings:
        return None
    last = max(reversed(run.settings), key=lambda one: one.happened_at)
    rule = practice_rows(actor.workshop_id)["wait_min"]
    until_at = last.happened_at + timedelta(minutes=rule.value)
    return Wait(
        label=last.label,
        value=last.value,
        unit=last.unit,
        source=rule.source,
        changed_at=last.happened_at,
        until_at=until_at,
        minutes=rule.value,
        over=until_at <= timezone.now(),
    )
