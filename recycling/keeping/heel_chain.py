"""A machine's heels are a chain in the order of its runs, whenever their sheets were entered.

A run that is entered late takes in the heel that was in the barrel at its time, and leaves its own;
the run after it took in that one, and not the one before. A run that is taken back closes the chain
again. The next run's unaccounted takes up the difference; what it gave was weighed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q

from recycling.keeping.lots import keep_weighings
from recycling.keeping.posting import Page
from recycling.keeping.unaccounted import counter
from recycling.ledger.models import Posting
from recycling.ledger.post import Change
from recycling.models import Draw, Lot, Machine, Run
from recycling.records.actors import Actor
from recycling.records.lots.mass_entries import BY_BOOK, WeighingEntry
from recycling.records.runs.entries import RunEntry
from recycling.stages import KEEPING_HEELS
from recycling.stages.declaration import HEEL, Stage
from shared.errors import Collected
from shared.said import say

RECHAIN = "rechain"
MOST = 2**62


@dataclass(frozen=True)
class Taken:
    """A heel that a run took in, whole, and its mass in mg."""

    heel: Lot
    mass_mg: int


@dataclass(frozen=True)
class Late:
    """The run that came next in a machine, where a sheet comes late, and the heel it took in."""

    run: Run
    taken: Taken | None


def next_run(machine_id: int, ended_at: datetime, number: int = MOST) -> Run | None:
    """Find the run that came next in a machine after one that ended then."""
    runs = Run.objects.filter(machine_id=machine_id, stage__in=KEEPING_HEELS).exclude(
        state=Run.VOID
    )
    same = Q(ended_at=ended_at, number__gt=number)
    later = runs.filter(Q(state=Run.OPEN) | Q(ended_at__gt=ended_at) | same)
    return later.order_by(F("ended_at").asc(nulls_last=True), "number").first()


def run_after(declared: Stage, machine: Machine | None, entry: RunEntry) -> Run | None:
    """Find the run that came next, where the sheet of a whole run comes late."""
    if not declared.keeps_heel or machine is None or entry.ended_at is None:
        return None
    return next_run(machine.pk, entry.ended_at)


def taken_in(run: Run) -> Taken | None:
    """Say which heel a run took in; None where it took none."""
    if run.machine_id is None:
        return None
    draws = Draw.objects.filter(run=run, mass_mg__gt=0, lot__form=HEEL)
    draw = draws.filter(lot__machine_id=run.machine_id).select_related("lot__made_by").first()
    return Taken(draw.lot, draw.mass_mg) if draw else None


def check_between(entry: RunEntry, later: Run, found: Collected) -> Late | None:
    """Find the heel that was in the barrel then; note a problem of a sheet that cannot be there.

    Before the first heel of a machine was counted a run takes in none and leaves none.
    """
    assert entry.ended_at is not None
    if later.started_at < entry.ended_at:
        _overlap(later, found)
    earlier = (
        Run.objects.filter(machine=later.machine, stage__in=KEEPING_HEELS)
        .filter(ended_at__lte=entry.ended_at, ended_at__gt=entry.started_at)
        .exclude(state=Run.VOID)
        .first()
    )
    if earlier is not None:
        _overlap(earlier, found)
    taken = taken_in(later)
    made_at = taken.heel.made_by.ended_at if taken else None
    if made_at is None or made_at <= entry.started_at:
        return Late(later, taken)
    if entry.heel:
        found.add(
            "heel-wrong",
            "The first heel of this machine was counted after this run; leave the heel out.",
            "/heel",
        )
    return None


def _overlap(other: Run, found: Collected) -> None:
    found.add(
        "machine-busy",
        say(
            "Run {run} was on this machine from {start} to {end}; two runs cannot be in one barrel"
            " at once. Check the times.",
            run=other.code,
            start=f"{other.started_at:%Y-%m-%d %H:%M} UTC",
            end=f"{other.ended_at:%Y-%m-%d %H:%M} UTC" if other.ended_at else "…",
        ),
        "/ended_at",
    )


def moved_page(run: Run, before: Taken | None, heel: Lot | None, mass_mg: int, reason: str) -> Page:
    """Have a run take in another heel, or none, instead of the one that it took in."""
    at, changes, rest_mg = run.ended_at or run.started_at, [], 0
    if before is not None:
        root = (
            Posting.objects.filter(entry__process_id=run.pk, account_id=before.heel.pk)
            .filter(corrects=None, mass_mg__lt=0)
            .select_related("entry")
            .order_by("-pk")[0]
        )
        at = root.entry.happened_at
        changes.append(Change(before.heel.pk, before.mass_mg, corrects_id=root.pk))
        rest_mg -= before.mass_mg
    if heel is not None:
        changes.append(Change(heel.pk, -mass_mg))
        rest_mg += mass_mg
    changes.append(counter(run, run.polymer, rest_mg))
    return Page(run, RECHAIN, at, changes, reason)


def keep_taken_whole(actor: Actor, page: Page, postings: Sequence[int]) -> None:
    """Keep that the heel which a run takes in now is known by the book alone."""
    if page.kind != RECHAIN:
        return
    posted = [change for change in page.changes if change.mass_mg]
    heels = set(
        Lot.objects.filter(pk__in=[one.account_id for one in posted]).values_list("pk", flat=True)
    )
    how = [
        (posting, WeighingEntry(how=BY_BOOK))
        for change, posting in zip(posted, postings, strict=True)
        if change.account_id in heels and change.mass_mg < 0
    ]
    keep_weighings(actor.workshop_id, actor.reference, how)


def closing_pages(runs: Collection[Run], reason: str) -> Iterator[Page]:
    """Close the chains again that runs were in which are taken back, and are void already."""
    gone, seen = {run.pk for run in runs}, set()
    for run in runs:
        if run.stage not in KEEPING_HEELS or run.machine_id is None or run.ended_at is None:
            continue
        after = next_run(run.machine_id, run.ended_at, run.number)
        if after is None or after.pk in seen:
            continue
        seen.add(after.pk)
        taken, before = taken_in(after), taken_in(run)
        while before is not None and before.heel.made_by_id in gone:
            before = taken_in(before.heel.made_by)
        if (taken is None or taken.heel.made_by_id in gone) and taken != before:
            heel, mass_mg = (before.heel, before.mass_mg) if before else (None, 0)
            yield moved_page(after, taken, heel, mass_mg, reason)


def chained_draws() -> Q:
    """Say which draws a chain moves by itself: of a machine's heel, by the next run in it."""
    return Q(lot__form=HEEL, run__stage__in=KEEPING_HEELS, run__machine_id=F("lot__machine_id"))
