"""Masses of counted pieces: the count times the mean of a sample of the workshop's own bottles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from recycling.models import BottleSample
from recycling.records.lots.mass_entries import OutputEntry
from recycling.records.lots.origin_entries import BagEntry
from shared.errors import Collected

COUNTED = "counted"
Pieces = TypeVar("Pieces", BagEntry, OutputEntry)


def with_masses_counted(
    workshop_id: int, entries: Sequence[Pieces], pointer: str, found: Collected
) -> tuple[Pieces, ...]:
    """Give each entry with a count and no mass the mass of so many pieces, by its sample.

    Where no sample was named and the workshop has one only, it is that one.
    """
    if not any(_asks(one) for one in entries):
        return tuple(entries)
    samples = {one.name: one for one in BottleSample.objects.filter(workshop_id=workshop_id)}
    return tuple(
        _counted(one, samples, f"{pointer}/{place}", found) if _asks(one) else one
        for place, one in enumerate(entries)
    )


def _asks(one: BagEntry | OutputEntry) -> bool:
    return bool(one.count and one.count > 0 and not one.mass_mg and one.weighing.gross_mg is None)


def _counted(
    one: Pieces, samples: dict[str, BottleSample], pointer: str, found: Collected
) -> Pieces:
    name = one.weighing.sample or (next(iter(samples)) if len(samples) == 1 else "")
    if not name:
        found.add(
            "sample-missing",
            "Give a mass, or name the sample of bottles that the count goes by.",
            f"{pointer}/weighing/sample",
        )
    if name not in samples:  # refused already, or by the check of samples; the mass is no news
        return replace(one, mass_mg=1)
    masses_mg = samples[name].masses_mg
    mass_mg = round(one.count * sum(masses_mg) / len(masses_mg))
    return replace(one, mass_mg=mass_mg, weighing=replace(one.weighing, how=COUNTED, sample=name))
