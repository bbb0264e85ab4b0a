"""What was recorded last of an open run, and taking it back: draws, outputs, losses, its log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deviations import keep_deviations
from recycling.keeping.facts import FACTS
from recycling.keeping.flow import correction_pages
from recycling.keeping.righting import Righted, put_right
from recycling.ledger.models import LOT, Entry, Posting
from recycling.models import Counted, Run, RunCheck, RunSetting
from recycling.records.actors import Actor
from shared.errors import Refused

UNDONE = "Undone at once by whoever recorded it."
PARTS = ("draw", "output", "loss")


@dataclass(frozen=True)
class Part:
    """What one deed recorded of an open run: its entries, or rows of its log."""

    written_at: datetime
    actor: UUID | None
    entries: tuple[Entry, ...] = ()
    noted: tuple[RunCheck | RunSetting, ...] = ()

    @property
    def until(self) -> datetime:
        """Until when it can be undone without a reason."""
        return self.written_at + timedelta(minutes=settings.UNDO_MINUTES)


def last_part(run: Run) -> Part | None:
    """Find what the last deed recorded of an open run, what was undone left out."""
    entries = Entry.objects.filter(process_id=run.pk, kind__in=PARTS).exclude(
        postings__corrections__entry__reason=UNDONE
    )
    last = entries.order_by("-sequence").first()
    noted = [
        row
        for kind in (RunCheck, RunSetting)
        if (row := kind.objects.filter(run=run).order_by("-written_at", "-pk").first())
    ]
    newest = max(noted, key=lambda row: row.written_at, default=None)
    if newest is not None and (last is None or newest.written_at > last.written_at):
        rows = [
            row
            for kind in (RunCheck, RunSetting)
            for row in kind.objects.filter(
                run=run, written_at=newest.written_at, actor=newest.actor
            )
        ]
        return Part(newest.written_at, newest.actor, noted=tuple(rows))
    if last is None:
        return None
    same = {"key": last.key} if last.key else {"written_at": last.written_at}
    of_deed = entries.filter(actor=last.actor, **same).order_by("sequence")
    return Part(last.written_at, last.actor, tuple(of_deed))


def part_until(run: Run) -> datetime | None:
    """Say until when what was just recorded of an open run can be undone without a reason."""
    part = last_part(run)
    return part.until if part else None


def take_part_back(actor: Actor, run: Run, part: Part) -> Righted:
    """Correct what a deed recorded of an open run to nothing; what it noted is superseded.

    Raises
    ------
    Refused
        When it was corrected since, or others drew on or counted what it gave.
    """
    postings = [
        posting
        for entry in part.entries
        for posting in entry.postings.select_related("account", "entry").order_by("pk")
        if posting.account_id != run.pk
    ]
    _refuse_built_on(run, postings)
    if part.noted:
        _supersede(actor, run, part)
    pages = [
        page
        for posting in reversed(postings)
        for page in correction_pages(run, posting, -posting.mass_mg, UNDONE, flow=False)
    ]
    done = put_right(actor, pages) if pages else Righted((), 0)
    keep_deviations(actor.workshop_id, [run.pk])
    return done


def _refuse_built_on(run: Run, postings: list[Posting]) -> None:
    made = [one.account_id for one in postings if one.mass_mg > 0 and one.account.kind == LOT]
    later = Posting.objects.filter(account_id__in=made).exclude(entry__process_id=run.pk)
    corrected = Posting.objects.filter(corrects__in=postings)
    counted = Counted.objects.filter(lot_id__in=made, run__state=Run.CLOSED)
    if later.exists() or corrected.exists() or counted.exists():
        raise Refused.because(
            "undo-over", "Something was recorded on it since; correct it now, with a reason."
        )


def _supersede(actor: Actor, run: Run, part: Part) -> None:
    now = timezone.now()
    for row in part.noted:
        row.superseded_at = now
        row.save(update_fields=["superseded_at"])
    before = {row.key: row.value for row in part.noted}
    keep_change(actor, run.code, FACTS, before, dict.fromkeys(before, ""), UNDONE)
