"""Figures that were asked about, and that nobody has put right or said to be right yet."""

from __future__ import annotations

from recycling.ledger.models import Posting
from recycling.models import FigureDoubt, Run
from recycling.records.actors import Actor
from recycling.records.balance.doubts import DoubtRow, Suggestion
from shared.said import again
from shared.units import parse_mass, typed_mass

MOST_SHOWN = 50


def doubts_waiting(actor: Actor) -> tuple[DoubtRow, ...]:
    """List them, the newest first; what was corrected or voided since is left out."""
    found = (
        FigureDoubt.objects.filter(workshop_id=actor.workshop_id, answered_at=None)
        .exclude(run__state=Run.VOID)
        .select_related("run", "lot")
        .order_by("-pk")[:MOST_SHOWN]
    )
    listed = list(found)
    first, corrected = _postings(listed)
    return tuple(
        DoubtRow(
            number=one.pk,
            run=one.run.code if one.run else "",
            lot=one.lot.code if one.lot else "",
            said=again(one.said),
            suggestions=_net(one) if one.lot else tuple(map(Suggestion, one.suggestions)),
            posting=first.get((one.lot_id, one.run_id)),
            raised_at=one.raised_at,
        )
        for one in listed
        if (one.lot_id, one.run_id) not in corrected
    )


def _net(one: FigureDoubt) -> tuple[Suggestion, ...]:
    """Say what the net mass may be where a gross one was typed."""
    typed = one.key.rpartition(":")[2]
    if not (one.lot and typed.isdigit() and "/gross_mg:" in one.key):
        return tuple(map(Suggestion, one.suggestions))
    tare_mg = int(typed) - one.lot.made_mg
    net = [parse_mass(value) - tare_mg for value in one.suggestions]
    return tuple(Suggestion(typed_mass(mass_mg)) for mass_mg in net if mass_mg > 0)


def _postings(
    listed: list[FigureDoubt],
) -> tuple[dict[tuple[int | None, int | None], int], set[tuple[int | None, int | None]]]:
    """Find the posting that carries each figure, and which were corrected."""
    wanted = [one for one in listed if one.lot_id and one.run_id]
    if not wanted:
        return {}, set()
    rows = Posting.objects.filter(
        account_id__in={one.lot_id for one in wanted},
        entry__process_id__in={one.run_id for one in wanted},
    ).order_by("-pk")
    first: dict[tuple[int | None, int | None], int] = {}
    corrected: set[tuple[int | None, int | None]] = set()
    for pk, lot_id, run_id, corrects in rows.values_list(
        "pk", "account_id", "entry__process_id", "corrects_id"
    ):
        first[lot_id, run_id] = pk
        if corrects is not None:
            corrected.add((lot_id, run_id))
    return first, corrected
