"""Putting right: the entries of a deed are posted together, and all that repeats them follows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Sum

from recycling.keeping.compositions import downstream_runs, follow_up
from recycling.keeping.heel_chain import Late, keep_taken_whole, moved_page
from recycling.keeping.posting import Page, write_pages
from recycling.ledger.models import BORDER, LOT, Account, Posting
from recycling.models import Draw, Lot, Run
from recycling.records.actors import Actor
from recycling.records.recorded import FigureChange
from recycling.stages import COUNTING
from recycling.stages.declaration import HEEL


@dataclass(frozen=True)
class Righted:
    """What putting right changed, figure by figure, and how many runs wait for their shares."""

    changes: tuple[FigureChange, ...]
    waiting_runs: int


def put_right(actor: Actor, pages: Sequence[Page]) -> Righted:
    """Post the entries of a deed; draws, lots and what descends from them follow.

    Raises
    ------
    Overdrawn
        When a lot would be below zero at any moment of its history, with all of them in it.
    """
    runs = {page.run.pk for page in pages}
    before = downstream_runs(list(runs))
    written = write_pages(actor, pages)
    _keep_in_step(pages)
    for page, postings in written:
        keep_taken_whole(actor, page, postings)
    waiting = follow_up(actor.workshop_id, sorted(runs | before))
    return Righted(figure_changes(page for page, _ in written), waiting)


def post_late(
    actor: Actor, page: Page, late: Late | None, made: Sequence[Lot]
) -> tuple[list[int], list[int]]:
    """Post a run whose sheet comes late; the next one takes in the heel that it left.

    Returns the ids of its postings, and the runs after it that took in another heel.
    """
    heel = next((lot for lot in made if lot.form == HEEL), None)
    moved = []
    if late is not None and (late.taken or heel):
        reason, mass_mg = f"{page.run.code} came late.", heel.made_mg if heel else 0
        moved = [moved_page(late.run, late.taken, heel, mass_mg, reason)]
    written = write_pages(actor, [page, *moved])
    _keep_in_step(moved)
    for one, postings in written[1:]:
        keep_taken_whole(actor, one, postings)
    return written[0][1], [one.run.pk for one in moved]


def _keep_in_step(pages: Sequence[Page]) -> None:
    """Add what was posted to what lots were made of and runs drew; both repeat the postings."""
    moved: dict[tuple[int, int], int] = defaultdict(int)
    for page in pages:
        for change in page.changes:
            moved[page.run.pk, change.account_id] += change.mass_mg
    makers = dict(
        Lot.objects.filter(pk__in={lot_id for _, lot_id in moved}).values_list("pk", "made_by_id")
    )
    counts = {page.run.pk for page in pages if page.run.stage in COUNTING}
    for (run_id, lot_id), mass_mg in moved.items():
        if not mass_mg or lot_id not in makers or run_id in counts:
            continue
        if makers[lot_id] == run_id:
            Lot.objects.filter(pk=lot_id).update(made_mg=F("made_mg") + mass_mg)
        elif not Draw.objects.filter(run_id=run_id, lot_id=lot_id).update(
            mass_mg=F("mass_mg") - mass_mg
        ):
            Draw.objects.create(run_id=run_id, lot_id=lot_id, mass_mg=-mass_mg)


def figure_changes(pages: Iterable[Page]) -> tuple[FigureChange, ...]:
    """Say what each figure and each lot's mass on hand was and is, once all is posted."""
    moved: dict[tuple[int, int], int] = defaultdict(int)
    runs: dict[int, Run] = {}
    for page in pages:
        runs[page.run.pk] = page.run
        for change in page.changes:
            moved[page.run.pk, change.account_id] += change.mass_mg
    ids = {account_id for _, account_id in moved}
    accounts = {one.pk: one for one in Account.objects.select_related("lot").filter(pk__in=ids)}
    posted = Posting.objects.filter(entry__process_id__in=runs, account_id__in=ids)
    sums = posted.values_list("entry__process_id", "account_id").order_by()
    now = {(run, account): mass for run, account, mass in sums.annotate(Sum("mass_mg"))}
    figures = [
        _figure(runs[run_id], accounts[account_id], now.get((run_id, account_id), 0), mass_mg)
        for (run_id, account_id), mass_mg in sorted(
            moved.items(), key=lambda one: (runs[one[0][0]].number, one[0][1])
        )
        if mass_mg
    ]
    return (*figures, *_on_hand(accounts, moved))


def _figure(run: Run, account: Account, now_mg: int, moved_mg: int) -> FigureChange:
    sign, name, lot = 1, account.name or "process", ""
    form = account.commodity
    if account.kind == LOT:
        lot, form = account.lot.code, account.lot.form
        made = account.lot.made_by_id == run.pk
        name = "given" if made else "counted" if run.stage in COUNTING else "drawn"
        sign = -1 if name == "drawn" else 1
    elif account.kind == BORDER and name == "received":
        sign = -1
    return FigureChange(
        run.code, run.stage, lot, form, name, sign * (now_mg - moved_mg), sign * now_mg
    )


def _on_hand(accounts: dict[int, Account], moved: dict[Any, int]) -> list[FigureChange]:
    totals: dict[int, int] = defaultdict(int)
    for (_run, account_id), mass_mg in moved.items():
        totals[account_id] += mass_mg
    return [
        FigureChange(
            "",
            "",
            account.lot.code,
            account.lot.form,
            "on hand",
            account.balance_mg - totals[pk],
            account.balance_mg,
        )
        for pk, account in sorted(accounts.items())
        if account.kind == LOT and totals[pk]
    ]
