"""Undo what was just done, without a reason: by whoever did it, while nothing was built on it."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.last_parts import UNDONE, Part, last_part, take_part_back
from recycling.keeping.lookups import run_named
from recycling.keeping.posting import Page
from recycling.keeping.righting import put_right
from recycling.keeping.voiding import refuse_built_on, void_together
from recycling.ledger.models import LOT, Entry, Posting
from recycling.ledger.post import Change
from recycling.models import Run
from recycling.records.actors import Actor
from recycling.records.recorded import Corrected
from shared.errors import Refused, Unknown
from shared.said import say


@deed("record")
def run_undo(actor: Actor, code: str, until: datetime | None = None) -> Corrected:
    """Take back a run, a collection or a count that was just recorded whole; it stays as void.

    Of a run that goes on, what was recorded last is taken back. With `until`, only what could be
    undone until then, as its answer said.

    Raises
    ------
    Refused
        When somebody else recorded it, its time is over, or something was built on it.
    """
    run = run_named(actor.workshop_id, code)
    if run.state == Run.VOID:
        raise Refused.because("run-void", say("Run {run} was voided before.", run=run.code))
    if run.state == Run.OPEN:
        return _part_undone(actor, run, until)
    entries = list(Entry.objects.filter(process_id=run.pk).order_by("sequence"))
    if not entries:
        raise Refused.because("undo-over", "There is nothing here to undo; void it instead.")
    for entry in entries:
        _refuse_late(actor, entry)
    refuse_built_on(run)
    done = void_together(actor, [run], UNDONE)
    return Corrected(run.code, None, 0, 0, 0, done.waiting_runs, done.changes, (run.code,))


def _part_undone(actor: Actor, run: Run, until: datetime | None) -> Corrected:
    part = last_part(run)
    if part is None:
        raise Refused.because("undo-over", "There is nothing here to undo; void it instead.")
    if until is not None and until != part.until:
        raise Refused.because(
            "undo-over", "Something was recorded on it since; correct it now, with a reason."
        )
    _refuse_late(actor, part)
    done = take_part_back(actor, run, part)
    return Corrected(run.code, None, 0, 0, 0, done.waiting_runs, done.changes)


@deed("record")
def correction_undo(actor: Actor, posting: int) -> Corrected:
    """Take back the last correction of a figure, with all that followed in the same deed.

    `posting` is that of the figure, or of the correction.

    Raises
    ------
    Refused
        When it was not corrected, somebody else did, its time is over, or something was built on
        it since.
    """
    entry = _last_correction(actor, posting)
    _refuse_late(actor, entry)
    deed_of_it = Entry.objects.filter(
        book_id=actor.workshop_id, written_at=entry.written_at, actor=entry.actor
    )
    _refuse_built_on(list(deed_of_it))
    pages = [_taken_back(one) for one in deed_of_it.filter(kind="correct").order_by("sequence")]
    done = put_right(actor, pages)
    return Corrected(pages[0].run.code, posting, 0, 0, 0, done.waiting_runs, done.changes)


def _last_correction(actor: Actor, posting: int) -> Entry:
    figure = Posting.objects.filter(pk=posting, entry__book_id=actor.workshop_id).first()
    if figure is None:
        raise Unknown.because("posting-unknown", "There is no such posting in this workshop.")
    corrections = Posting.objects.filter(corrects_id=figure.corrects_id or figure.pk)
    last = corrections.select_related("entry").order_by("-pk").first()
    if last is None:
        raise Refused.because("undo-over", "There is nothing here to undo; void it instead.")
    return last.entry


def _refuse_late(actor: Actor, entry: Entry | Part) -> None:
    """Refuse when somebody else wrote it, or its time is over."""
    since = timezone.now() - timedelta(minutes=settings.UNDO_MINUTES)
    if entry.actor != actor.reference:
        raise Refused.because("undo-over", "Somebody else recorded this; ask a lead to void it.")
    if entry.written_at < since:
        text = say(
            "This can be undone for {minutes} minutes after it was recorded; void or correct it"
            " now, with a reason.",
            minutes=settings.UNDO_MINUTES,
        )
        raise Refused.because("undo-over", text)


def _refuse_built_on(entries: list[Entry]) -> None:
    """Refuse when anything was posted since on a lot that the deed moved."""
    lots = Posting.objects.filter(entry__in=entries, account__kind=LOT).values("account_id")
    later = Posting.objects.filter(
        account_id__in=lots, entry__sequence__gt=max(one.sequence for one in entries)
    )
    if later.exists():
        raise Refused.because(
            "undo-over", "Something was recorded on it since; correct it now, with a reason."
        )


def _taken_back(entry: Entry) -> Page:
    changes = [
        Change(one.account_id, -one.mass_mg, corrects_id=one.corrects_id)
        for one in entry.postings.order_by("pk")
    ]
    run = Run.objects.get(pk=entry.process_id)
    return Page(run, "correct", entry.happened_at, changes, UNDONE)
