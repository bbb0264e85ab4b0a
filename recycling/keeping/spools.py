"""A spool that is worked on and keeps its form, as one that is dried, goes on as the same spool."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from recycling.models import Spool
from recycling.records.lots.mass_entries import OutputEntry, SpoolEntry
from recycling.stages.declaration import SPOOLED, Stage


def going_on_as_spool(
    declared: Stage, outputs: tuple[OutputEntry, ...], lot_ids: Iterable[int]
) -> tuple[OutputEntry, ...]:
    """Give the one output that is the one spool drawn its diameter, tolerance and empty mass.

    Its length is not carried on: some of it may have been printed. Where several spools went in,
    or came out, nothing tells which is which.
    """
    wound = [one for one in outputs if one.form in SPOOLED and one.spool is None]
    if not declared.same_form or len(wound) != 1:
        return outputs
    spools = list(Spool.objects.filter(lot_id__in=list(lot_ids))[:2])
    if len(spools) != 1:
        return outputs
    was = spools[0]
    spool = SpoolEntry(was.diameter_mm, was.tolerance_mm, was.tare_mg)
    return tuple(replace(one, spool=spool) if one is wound[0] else one for one in outputs)
