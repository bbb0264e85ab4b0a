"""Count stock: set lots to the mass that was found; the difference is unaccounted."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Min, Sum

from recycling.keeping.deed import deed, undo_until
from recycling.keeping.doubts import kept_doubts, times_asked
from recycling.keeping.lots import keep_weighings
from recycling.keeping.posting import post_run
from recycling.keeping.prepared import Prepared, prepare, times_of
from recycling.keeping.run_log import keep_log
from recycling.keeping.runs import start_run
from recycling.keeping.weighing_rules import check_mass, check_weighing
from recycling.ledger.models import Posting
from recycling.ledger.post import Change, border_account
from recycling.models import Counted, Run
from recycling.records.actors import Actor
from recycling.records.recorded import RunRecorded, recorded
from recycling.records.runs.entries import RunEntry
from recycling.stages.declaration import UNACCOUNTED
from shared.errors import Collected, Refused
from shared.said import say


@deed("record")
def lots_count(actor: Actor, entry: RunEntry) -> RunRecorded:
    """Record what a count found; a lot that was found empty is counted at zero.

    Raises
    ------
    Refused
        With every problem of the entry, or when later draws need more than was found.
    """
    if entry.ended_at is None:
        raise Refused.because("end-missing", "Say when it was counted.", "/ended_at")
    prepared = prepare(actor, entry)
    _check_counts(prepared, entry.ended_at)
    run = start_run(actor, prepared, Run.CLOSED)
    changes = _changes(actor, prepared, entry.ended_at)
    counted = Counted.objects.bulk_create(
        Counted(run=run, lot_id=prepared.lots[count.lot].lot_id, mass_mg=count.mass_mg)
        for count in entry.counts
    )
    posted: list[int | None] = [None] * len(changes)
    found_mg = sum(change.mass_mg for change in changes[::2])
    if any(change.mass_mg for change in changes):
        postings = iter(post_run(actor, run, "count", entry.ended_at, changes))
        posted = [next(postings) if change.mass_mg else None for change in changes]
    how = list(zip(posted[::2], (count.weighing for count in entry.counts), strict=True))
    counts = {place: one.pk for place, one in enumerate(counted)}
    keep_weighings(actor.workshop_id, actor.reference, how, counts)
    keep_log(actor, run, entry, prepared.within)
    unsure = kept_doubts(actor, run, times_asked(times_of(entry)))
    return recorded(run.code, run.stage, 0, (), -found_mg, unsure, undo_until=undo_until())


def _check_counts(prepared: Prepared, at: datetime) -> None:
    found, seen = Collected(), set()
    first = _first_postings(prepared)
    if not prepared.entry.counts:
        found.add("counts-missing", "Count at least one lot.", "/counts")
    for place, count in enumerate(prepared.entry.counts):
        pointer = f"/counts/{place}"
        lot = prepared.lots.get(count.lot)
        if lot is None:
            found.add(
                "lot-unknown", say("There is no lot “{lot}” here.", lot=count.lot), f"{pointer}/lot"
            )
        elif lot.code in seen:
            found.add(
                "lot-twice", say("Lot {lot} is counted twice.", lot=lot.code), f"{pointer}/lot"
            )
        elif lot.made_by_state == Run.VOID:
            found.add(
                "run-void",
                say("The run that gave lot {lot} was voided.", lot=lot.code),
                f"{pointer}/lot",
            )
        elif at < first[lot.lot_id]:
            found.add(
                "count-too-early",
                say("Lot {lot} was not there yet.", lot=lot.code),
                f"{pointer}/lot",
            )
        if lot is not None:
            seen.add(lot.code)
        check_mass(count.mass_mg, f"{pointer}/mass_mg", found, zero=True)
        check_weighing(count.weighing, count.mass_mg, f"{pointer}/weighing", found)
    found.refuse()


def _first_postings(prepared: Prepared) -> dict[int, datetime]:
    lots = [lot.lot_id for lot in prepared.lots.values()]
    rows = Posting.objects.filter(account_id__in=lots).values_list("account_id")
    return dict(rows.annotate(Min("entry__happened_at")))


def _changes(actor: Actor, prepared: Prepared, at: datetime) -> list[Change]:
    wanted = {prepared.lots[count.lot].lot_id: count.mass_mg for count in prepared.entry.counts}
    polymers = {lot.lot_id: lot.polymer for lot in prepared.lots.values()}
    rows = (
        Posting.objects.filter(account_id__in=wanted, entry__happened_at__lte=at)
        .values_list("account_id")
        .annotate(Sum("mass_mg"))
    )
    booked: dict[int, int] = dict(rows)
    changes: list[Change] = []
    for lot_id, mass_mg in wanted.items():
        delta = mass_mg - booked.get(lot_id, 0)
        counter = border_account(actor.workshop_id, UNACCOUNTED, polymers[lot_id])
        changes += [Change(lot_id, delta), Change(counter, -delta)]
    return changes
