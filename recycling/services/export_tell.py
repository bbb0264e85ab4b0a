"""Tell others what happened, and remember what they were told of figures that may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.models import Run, ToldEnergy
from recycling.queries.export_energies import energies_told, told_before
from recycling.queries.exports import exported
from recycling.queries.ways import in_chunks
from recycling.records.actors import Actor
from recycling.records.exports import Exported, ExportEnergy, ExportWanted

Told = Mapping[int, tuple[ExportEnergy, ...]]


def export_tell(actor: Actor, wanted: ExportWanted) -> Exported:
    """Read all that events are written from, and remember the energies among it.

    With a period, energies of earlier runs are looked at again: one that changed since it was
    told is put right in the period in which that is found. Only what is new is written, so that
    asking twice writes once.

    Raises
    ------
    Refused
        When both a lot and a period are asked for, or the period ends before it starts.
    Unknown
        When there is no such lot.
    """
    if wanted.start is not None and not wanted.lot:
        now = timezone.now()
        earlier = told_before(actor.workshop_id, wanted.start)
        _keep_new(actor, energies_told(actor.workshop_id, earlier, now), now)
    found = exported(actor, wanted)
    keys: dict[str, int] = {}
    for chunk in in_chunks(found.runs):
        runs = Run.objects.filter(workshop_id=actor.workshop_id, code__in=chunk)
        keys |= dict(runs.values_list("code", "pk"))
    told = {keys[code]: run.energies for code, run in found.runs.items()}
    _keep_new(actor, told, found.read_at)
    return found


def _keep_new(actor: Actor, told: Told, now: datetime) -> None:
    new = [
        ToldEnergy(run_id=run_id, **asdict(one))
        for run_id, energies in told.items()
        for one in energies
        if one.told_at == now
    ]
    if new:
        _keep(actor, new)


@deed("read")
def _keep(actor: Actor, new: list[ToldEnergy]) -> None:
    """Store figures; where somebody else was told one at the same moment, that stands."""
    ToldEnergy.objects.bulk_create(new, ignore_conflicts=True)
