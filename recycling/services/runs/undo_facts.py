"""Undo the last change of facts, without a reason: by whoever made it, for a while."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db.models import Model
from django.utils import timezone

from recycling.keeping.compositions import downstream_runs
from recycling.keeping.deed import deed
from recycling.keeping.deviations import keep_deviations
from recycling.keeping.facts import FACTS, Facts, refuse_void
from recycling.keeping.facts import said as fact_said
from recycling.keeping.last_parts import UNDONE
from recycling.models import ChangeEvent, Lot, Member, Origin, Run, RunOperator
from recycling.records.actors import Actor
from recycling.records.lots.changes import FactsUndone
from shared.codes import read_code
from shared.errors import Refused, Unknown
from shared.said import say

OPERATORS = "operators"


@deed("correct")
def facts_undo(actor: Actor, code: str) -> FactsUndone:
    """Put back what the last change of a lot, a run or a collection put right.

    Raises
    ------
    Refused
        When nothing was changed, somebody else did, its time is over, something was changed
        since, or it put right checks, settings or refills.
    """
    subject = read_code(code) or code
    events = ChangeEvent.objects.filter(workshop_id=actor.workshop_id, subject=subject, deed=FACTS)
    last = events.order_by("-pk").first()
    run, rows = _rows_of(actor.workshop_id, subject)
    refuse_void(run)
    if last is None or last.reason == UNDONE:
        raise Refused.because("undo-over", "There is nothing here to undo.")
    if last.actor != actor.reference:
        raise Refused.because("undo-over", "Somebody else changed this; put it right instead.")
    if last.written_at < timezone.now() - timedelta(minutes=settings.UNDO_MINUTES):
        text = say(
            "This can be undone for {minutes} minutes after it was changed; put it right now,"
            " with a reason.",
            minutes=settings.UNDO_MINUTES,
        )
        raise Refused.because("undo-over", text)
    facts, left = Facts(subject), set(last.before)
    for row in rows:
        left -= _put_back(row, last, facts)
    if OPERATORS in left and isinstance(rows[0], Run):
        _set_operators(rows[0], last.before[OPERATORS], facts)
        left.discard(OPERATORS)
    if left:
        raise Refused.because(
            "undo-over", "What was noted, set or fed is put right again, with a reason."
        )
    facts.keep(actor, UNDONE)
    if "form" in last.before:
        keep_deviations(actor.workshop_id, downstream_runs([run.pk]))
    return FactsUndone(subject, tuple(sorted(last.before)))


def _rows_of(workshop_id: int, code: str) -> tuple[Run, list[Model]]:
    """Find the run of what a code names, and the rows that hold its facts."""
    here: dict[str, Any] = {"workshop_id": workshop_id, "code": code}
    lot = Lot.objects.filter(**here).select_related("made_by", "spool").first()
    if lot is not None:
        spool = getattr(lot, "spool", None)
        return lot.made_by, [lot, *([spool] if spool else [])]
    origin = Origin.objects.filter(**here).select_related("run").first()
    if origin is not None:
        return origin.run, [origin]
    run = Run.objects.filter(**here).first()
    if run is None:
        raise Unknown.because("code-unknown", "Nothing here has this code.")
    return run, [run]


def _put_back(row: Model, last: ChangeEvent, facts: Facts) -> set[str]:
    """Put fields of a row back to what they were; refuses where they are another since."""
    fields = {field.attname: field for field in row._meta.concrete_fields}
    names = fields.keys() & last.before.keys()
    if any(fact_said(getattr(row, name)) != last.after[name] for name in names):
        raise Refused.because("undo-over", "It was changed since; put it right, with a reason.")
    facts.set(
        row,
        {
            name: None if fields[name].null and not text else fields[name].to_python(text)
            for name, text in last.before.items()
            if name in names
        },
    )
    return set(names)


def _set_operators(run: Run, before: str, facts: Facts) -> None:
    rows = RunOperator.objects.filter(run=run).order_by("member_id")
    now = " ".join(map(str, rows.values_list("member__reference", flat=True)))
    members = Member.objects.filter(workshop_id=run.workshop_id, reference__in=before.split())
    rows.delete()
    RunOperator.objects.bulk_create(RunOperator(run=run, member=one) for one in members)
    facts.note(OPERATORS, now, before)
