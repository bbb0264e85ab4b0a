"""Correct a typed figure, or void a run; the old figures stay readable."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Sum
from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.compositions import follow_up, refuse_circle
from recycling.keeping.deed import deed
from recycling.keeping.lookups import run_named
from recycling.keeping.posting import post_run
from recycling.keeping.runs import closing_change
from recycling.keeping.texts import require_reason
from recycling.ledger.models import BORDER, LOT, Account, Entry, Posting
from recycling.ledger.post import Change, Overdrawn
from recycling.models import Counted, Draw, Lot, Run
from recycling.records.actors import Actor
from recycling.records.recorded import Corrected
from recycling.records.runs.entries import CorrectionEntry
from recycling.stages.declaration import DISCARDED, DISPATCHED, LOSSES, RECEIVED
from shared.errors import Refused, Unknown
from shared.said import say
from shared.units import checked_mass

TYPED_BORDERS = frozenset(LOSSES)


@deed("correct")
def posting_correct(actor: Actor, entry: CorrectionEntry) -> Corrected:
    """Post the difference between a figure and what it should have been, with a reason.

    Raises
    ------
    Refused
        When it is no typed figure, nothing changes, or a lot would go below zero at any time.
    """
    reason = require_reason(entry.reason)
    mass_mg = checked_mass(entry.mass_mg, "/mass_mg", zero=True)
    root, run = _typed_posting(actor, entry.posting)
    current = root.mass_mg + (root.corrections.aggregate(sum=Sum("mass_mg"))["sum"] or 0)
    sign = 1 if root.mass_mg > 0 else -1
    delta = sign * mass_mg - current
    if not delta:
        raise Refused.because("nothing-changed", "This is what the book says already.", "/mass_mg")
    if sign < 0 and not current:
        lot = root.account.lot
        refuse_circle(run, lot.code, lot.made_by_id, "/mass_mg")
    counter = _counter(actor, run, root, -delta)
    changes = [Change(root.account_id, delta, corrects_id=root.pk), *counter]
    at = root.entry.happened_at
    try:
        post_run(actor, run, "correct", at, changes, reason)
    except Overdrawn as overdrawn:
        overdrawn.drawn_by = _drawn_by(overdrawn, at, run)
        raise
    _keep_in_step(run, root.account, delta, sign)
    waiting = follow_up(actor.workshop_id, [run.pk])
    return Corrected(run.code, root.pk, abs(current), mass_mg, delta, waiting)


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
    if run.stage == "count":
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


def _counter(actor: Actor, run: Run, root: Posting, mass_mg: int) -> list[Change]:
    """Say where the difference goes: over the border it came by, else into what closes the run."""
    if run.state == Run.OPEN:
        return [Change(run.pk, mass_mg)]
    borders = {"receive": RECEIVED, "dispatch": DISPATCHED, "discard": DISCARDED}
    if run.stage in borders:
        account = Account.objects.get(
            book_id=actor.workshop_id,
            kind=BORDER,
            name=borders[run.stage],
            commodity=root.account.commodity,
        )
        return [Change(account.pk, mass_mg)]
    return closing_change(actor.workshop_id, run.polymer, mass_mg)


def _keep_in_step(run: Run, account: Account, delta: int, sign: int) -> None:
    if account.kind != LOT:
        return
    if sign < 0:
        draw = Draw.objects.get(run=run, lot_id=account.pk)
        draw.mass_mg -= delta
        draw.save(update_fields=["mass_mg"])
    else:
        lot = Lot.objects.get(pk=account.pk)
        lot.made_mg += delta
        lot.save(update_fields=["made_mg"])


@deed("void")
def run_void(actor: Actor, code: str, reason: str) -> Corrected:
    """Undo a run by opposite postings; it stays readable as void.

    Raises
    ------
    Refused
        When it is void already, or later runs have drawn on what it gave: they are named.
    """
    reason = require_reason(reason)
    run = run_named(actor.workshop_id, code)
    if run.state == Run.VOID:
        raise Refused.because("run-void", say("Run {run} was voided before.", run=run.code))
    _refuse_drawn_on(run)
    for moment, changes in _opposites(run).items():
        if changes:
            post_run(actor, run, "void", moment, changes, reason)
    Draw.objects.filter(run=run).update(mass_mg=0)
    Lot.objects.filter(made_by=run).update(made_mg=0)
    before = run.state
    run.state, run.ended_at = Run.VOID, run.ended_at or max(timezone.now(), run.started_at)
    run.save(update_fields=["state", "ended_at"])
    keep_change(actor, run.code, "void", {"state": before}, {"state": Run.VOID}, reason)
    follow_up(actor.workshop_id, [run.pk])
    return Corrected(run.code, None, 0, 0, 0, 0)


def _refuse_drawn_on(run: Run) -> None:
    later = (
        Run.objects.filter(draws__lot__made_by=run, draws__mass_mg__gt=0)
        .exclude(state=Run.VOID)
        .order_by("number")
        .values_list("code", flat=True)
        .distinct()
    )
    if later:
        raise Refused.because(
            "run-drawn-on",
            say(
                "Later runs drew on what {run} gave: {later}. Void those first, or"
                " correct the figure that is wrong.",
                run=run.code,
                later=", ".join(later),
            ),
        )
    counted = (
        Counted.objects.filter(lot__made_by=run, run__state=Run.CLOSED)
        .order_by("lot__number")
        .values_list("lot__code", flat=True)
        .distinct()
    )
    if counted:
        codes = ", ".join(counted)
        raise Refused.because(
            "run-counted-since",
            say(
                "A stock count found what {run} gave: {codes}. Void that count first.",
                run=run.code,
                codes=codes,
            ),
        )


def _opposites(run: Run) -> dict:
    moments: dict = {}
    entries = Entry.objects.filter(process_id=run.pk).order_by("sequence")
    for entry in entries.prefetch_related("postings"):
        sums = moments.setdefault(entry.happened_at, {})
        for posting in entry.postings.all():
            sums[posting.account_id] = sums.get(posting.account_id, 0) - posting.mass_mg
    return {
        moment: [Change(account_id, mass_mg) for account_id, mass_mg in sums.items() if mass_mg]
        for moment, sums in moments.items()
    }
