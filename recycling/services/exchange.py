"""Tell others the energy of runs: from then on a figure that changes is declared wrong."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.deed import deed, refuse_unless_may
from recycling.models import ToldEnergy
from recycling.queries.exchange.energies import energies_of, told_before
from recycling.queries.exchange.exports import runs_exported
from recycling.records.actors import Actor
from recycling.records.exchange.exports import ExportWanted
from recycling.records.exchange.tellings import EnergiesTold


def energies_tell(actor: Actor, wanted: ExportWanted) -> EnergiesTold:
    """Remember the energies that events of this have, where they were not told yet.

    With a period, energies of earlier runs are looked at again: one that changed since it was
    told is put right in the period in which that is found. The book is locked only to write.

    Raises
    ------
    Forbidden
        When the actor may not.
    Refused
        When both a lot and a period are asked for, or the period ends before it starts.
    Unknown
        When there is no such lot.
    """
    refuse_unless_may(actor, "report")
    now, run_ids = timezone.now(), set(runs_exported(actor, wanted))
    if wanted.start is not None and not wanted.lot:
        run_ids |= set(told_before(actor.workshop_id, wanted.start))
    figures = [
        ToldEnergy(
            run_id=run_id, number=one.number, kwh=one.kwh, method=one.method, told_at=one.told_at
        )
        for run_id, each in energies_of(actor.workshop_id, run_ids, now).items()
        for one in each
        if not one.told
    ]
    if figures:
        _keep(actor, figures)
    return EnergiesTold(len(figures), now)


@deed("report")
def _keep(actor: Actor, figures: list[ToldEnergy]) -> None:
    """Store figures; where somebody else told one meanwhile, that stands."""
    ToldEnergy.objects.bulk_create(figures, ignore_conflicts=True)
