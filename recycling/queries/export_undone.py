"""Runs that a lot no longer came through or went into, since they were undone."""

from __future__ import annotations

from recycling.models import Draw, Lot, Run


def undone_on_the_way(workshop_id: int, code: str, forward: bool) -> set[int]:
    """Name the voided run that made a lot and, forward, runs that no longer draw on it.

    Whoever was told of them is told that they did not occur: runs that were voided, and those
    whose draw was corrected to nothing, on the lot or on what was made of it.
    """
    lot = Lot.objects.filter(workshop_id=workshop_id, code=code)
    undone = set(lot.filter(made_by__state=Run.VOID).values_list("made_by_id", flat=True))
    lots, met = set(lot.values_list("pk", flat=True)) if forward else set(), set(undone)
    while lots:
        draws = Draw.objects.filter(lot_id__in=lots).exclude(run_id__in=met)
        found = dict(draws.values_list("run_id", "run__state"))
        going_on = set(draws.filter(mass_mg__gt=0).values_list("run_id", flat=True))
        met |= found.keys()
        undone |= found.keys() - going_on
        going_on |= {run for run, state in found.items() if state == Run.VOID}
        made = Lot.objects.filter(made_by_id__in=going_on)
        lots = set(made.values_list("pk", flat=True))
    return undone
