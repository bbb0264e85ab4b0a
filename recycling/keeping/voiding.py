"""Void a run by opposite postings, alone or with all that followed from it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.heel_chain import chained_draws, closing_pages
from recycling.keeping.posting import Page
from recycling.keeping.righting import Righted, put_right
from recycling.ledger.models import Entry
from recycling.ledger.post import Change
from recycling.models import Counted, Draw, Run
from recycling.records.actors import Actor
from shared.errors import Refused
from shared.said import say

VOID = "void"


def with_what_follows(run: Run) -> list[Run]:
    """List a run with all that descends from it, the latest first, counts of it among them."""
    ids = _descending(run.pk)
    ids |= _counts_of_nothing_else(ids)
    runs = Run.objects.filter(pk__in=ids).exclude(state=Run.VOID)
    return sorted(runs, key=lambda one: (one.ended_at or timezone.now(), one.number), reverse=True)


def _descending(run_id: int) -> set[int]:
    """Name a run and all that descend from what it gave, but for heels: their chain is closed."""
    found, new = {run_id}, {run_id}
    while new:
        draws = Draw.objects.filter(lot__made_by_id__in=new, mass_mg__gt=0)
        after = set(draws.exclude(chained_draws()).values_list("run_id", flat=True))
        new = after - found
        found |= new
    return found


def _counts_of_nothing_else(run_ids: Collection[int]) -> set[int]:
    """Find the counts of what these runs gave; refuse when one counted something else too."""
    counted = Counted.objects.filter(lot__made_by_id__in=run_ids, run__state=Run.CLOSED)
    counts = set(counted.values_list("run_id", flat=True))
    others = Counted.objects.filter(run_id__in=counts).exclude(lot__made_by_id__in=run_ids)
    mixed = set(others.values_list("run_id", flat=True))
    if mixed:
        codes = counted.filter(run_id__in=mixed).order_by("lot__number")
        raise _counted_since(list(codes.values_list("lot__code", flat=True).distinct()))
    return counts


def void_together(actor: Actor, runs: Sequence[Run], reason: str) -> Righted:
    """Post back all that these runs posted, in one deed."""
    pages = [
        Page(run, VOID, moment, changes, reason)
        for run in runs
        for moment, changes in _opposites(run).items()
        if changes
    ]
    for run in runs:
        before = run.state
        run.state, run.ended_at = Run.VOID, run.ended_at or max(timezone.now(), run.started_at)
        run.save(update_fields=["state", "ended_at"])
        keep_change(actor, run.code, VOID, {"state": before}, {"state": Run.VOID}, reason)
    pages += closing_pages(runs, reason)
    return put_right(actor, pages) if pages else Righted((), 0)


def refuse_built_on(run: Run) -> None:
    """Refuse to void a run alone that others drew on, or whose outputs were counted."""
    later = (
        Draw.objects.filter(lot__made_by=run, mass_mg__gt=0)
        .exclude(run__state=Run.VOID)
        .exclude(chained_draws())
        .order_by("run__number")
        .values_list("run__code", flat=True)
        .distinct()
    )
    if later:
        raise Refused.because(
            "run-drawn-on",
            say(
                "Later runs drew on what {run} gave: {later}. Void those first, or with it, or"
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
        raise _counted_since(list(counted), run.code)


def _counted_since(codes: Sequence[str], run: str = "") -> Refused:
    text = (
        say(
            "A stock count found what {run} gave: {codes}. Void that count first.",
            run=run,
            codes=", ".join(codes),
        )
        if run
        else say(
            "A stock count found {codes} beside other lots. Void that count first.",
            codes=", ".join(codes),
        )
    )
    return Refused.because("run-counted-since", text)


def _opposites(run: Run) -> dict[datetime, list[Change]]:
    """Say what takes a run's postings back, at each of its moments."""
    moments: dict[datetime, dict[int, int]] = {}
    entries = Entry.objects.filter(process_id=run.pk).order_by("sequence")
    for entry in entries.prefetch_related("postings"):
        sums = moments.setdefault(entry.happened_at, {})
        for posting in entry.postings.all():
            sums[posting.account_id] = sums.get(posting.account_id, 0) - posting.mass_mg
    return {
        moment: [Change(account_id, mass_mg) for account_id, mass_mg in sums.items() if mass_mg]
        for moment, sums in moments.items()
    }
