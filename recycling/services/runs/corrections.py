"""Correct a typed figure; the old one stays readable."""

from __future__ import annotations

from datetime import datetime

from recycling.keeping.compositions import refuse_circle
from recycling.keeping.deed import deed
from recycling.keeping.flow import correction_pages, figure_now
from recycling.keeping.righting import put_right
from recycling.keeping.texts import require_reason
from recycling.ledger.models import LOT, Posting
from recycling.ledger.post import Overdrawn
from recycling.models import Draw, Run
from recycling.records.actors import Actor
from recycling.records.recorded import Corrected
from recycling.records.runs.entries import CorrectionEntry
from recycling.stages import COUNTING
from recycling.stages.declaration import LOSSES
from shared.errors import Refused, Unknown
from shared.said import say
from shared.units import checked_mass

TYPED_BORDERS = frozenset(LOSSES)


@deed("correct")
def posting_correct(actor: Actor, entry: CorrectionEntry) -> Corrected:
    """Post the difference between a figure and what it should have been, with a reason.

    With `flow`, draws that took the lot whole follow, in the same deed.

    Raises
    ------
    Refused
        When it is no typed figure, nothing changes, or a lot would go below zero at any time.
    """
    reason = require_reason(entry.reason)
    mass_mg = checked_mass(entry.mass_mg, "/mass_mg", zero=True)
    root, run = _typed_posting(actor, entry.posting)
    sign = 1 if root.mass_mg > 0 else -1
    current_mg = figure_now(root)
    delta_mg = sign * (mass_mg - current_mg)
    if not delta_mg:
        raise Refused.because("nothing-changed", "This is what the book says already.", "/mass_mg")
    if sign < 0 and not current_mg:
        lot = root.account.lot
        refuse_circle(run, lot.code, lot.made_by_id, "/mass_mg")
    try:
        done = put_right(actor, correction_pages(run, root, delta_mg, reason, entry.flow))
    except Overdrawn as overdrawn:
        overdrawn.drawn_by = _drawn_by(overdrawn, root.entry.happened_at, run)
        raise
    return Corrected(
        run.code, root.pk, current_mg, mass_mg, delta_mg, done.waiting_runs, done.changes
    )


def _typed_posting(actor: Actor, posting_id: int) -> tuple[Posting, Run]:
    posting = (
        Posting.objects.select_related("account__lot", "entry", "corrects")
        .filter(pk=posting_id, entry__book_id=actor.workshop_id)
        .first()
    )
    if posting is None:
        raise Unknown.because("posting-unknown", "There is no such posting in this workshop.")
    if posting.corrects_id:
        return _typed_posting(actor, posting.corrects_id)
    run = Run.objects.get(pk=posting.entry.process_id)
    if run.state == Run.VOID:
        raise Refused.because(
            "run-void", say("Run {run} was voided; record it anew.", run=run.code)
        )
    if run.stage in COUNTING:
        raise Refused.because("count-correct", "Count the lot again instead.")
    typed = posting.account.kind == LOT or posting.account.name in TYPED_BORDERS
    if not typed or posting.entry.kind == "close":
        raise Refused.because(
            "figure-follows",
            "This figure follows from others; correct the weighing that is wrong.",
        )
    return posting, run


def _drawn_by(overdrawn: Overdrawn, since: datetime, run: Run) -> tuple[str, ...]:
    """Name the other runs that drew from the lot since then and until it would be below zero."""
    drawn = Draw.objects.filter(
        lot_id=overdrawn.account_id,
        mass_mg__gt=0,
        run__account__entries__postings__account_id=overdrawn.account_id,
        run__account__entries__happened_at__range=(since, overdrawn.when),
    ).exclude(run=run)
    return tuple(drawn.order_by("run__number").values_list("run__code", flat=True).distinct())
