"""Keep what was measured of lots: particles and filament."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from recycling.keeping.deed import deed
from recycling.keeping.lookups import LotFacts, check_moment, lot_named
from recycling.keeping.machines import check_number
from recycling.models import FilamentReading, ParticleSample
from recycling.queries.setup.practice import practice_value
from recycling.records.actors import Actor
from recycling.records.quality.entries import FilamentEntry, ParticlesEntry
from shared.errors import Collected
from shared.said import say

SHREDDED = ("flake", "dried flake", "oversize", "fines", "pellets")
MOST_VALUES = 2000


def _check_values(
    values: Sequence[float], low: float, high: float, pointer: str, found: Collected
) -> None:
    if not 1 <= len(values) <= MOST_VALUES:
        found.add(
            "values-missing",
            say("From 1 to {most_values} values.", most_values=MOST_VALUES),
            pointer,
        )
    for place, value in enumerate(values):
        if not low <= value <= high:
            found.add(
                "number-out-of-bounds",
                say(
                    "Value {place}, {value:g}, is not from {low:g} to {high:g} mm.",
                    place=place + 1,
                    value=value,
                    low=low,
                    high=high,
                ),
                f"{pointer}/{place}",
            )
            return


@deed("record")
def particles_measure(actor: Actor, entry: ParticlesEntry) -> str:
    """Keep the sizes of a sample of particles with the limit that holds now; return the code.

    Raises
    ------
    Refused
        When the lot is no flake, or a size is none.
    """
    lot, found = lot_named(actor.workshop_id, entry.lot, "/lot"), Collected()
    at = entry.measured_at or timezone.now()
    check_moment(at, "/measured_at", found)
    _check_form(lot, SHREDDED, "particles", found)
    _check_values(entry.sizes_mm, 0.01, 500, "/sizes_mm", found)
    found.refuse()
    ParticleSample.objects.create(
        lot_id=lot.lot_id,
        sizes_mm=list(entry.sizes_mm),
        limit_mm=practice_value(actor.workshop_id, "particle_limit_mm"),
        allowed=practice_value(actor.workshop_id, "particle_allowed_percent") / 100,
        measured_at=at,
        written_at=timezone.now(),
        actor=actor.reference,
    )
    return lot.code


def _check_form(lot: LotFacts, forms: Sequence[str], what: str, found: Collected) -> None:
    if lot.form not in forms:
        found.add(
            "form-wrong",
            say("Lot {lot} is {form}: it has no {what}.", lot=lot.code, form=lot.form, what=what),
            "/lot",
        )


@deed("record")
def filament_measure(actor: Actor, entry: FilamentEntry) -> str:
    """Keep diameters of a spool's filament; return its code.

    Raises
    ------
    Refused
        When it is no filament, a diameter is none, or the axes do not pair up.
    """
    lot, found = lot_named(actor.workshop_id, entry.lot, "/lot"), Collected()
    at = entry.measured_at or timezone.now()
    check_moment(at, "/measured_at", found)
    _check_form(lot, ("filament",), "diameter", found)
    _check_values(entry.first_mm, 0.5, 5, "/first_mm", found)
    if entry.second_mm:
        _check_values(entry.second_mm, 0.5, 5, "/second_mm", found)
        if len(entry.second_mm) != len(entry.first_mm):
            found.add(
                "axes-differ",
                say(
                    "{first_mm} along one axis but {second_mm} along the other: they"
                    " are read at the same places.",
                    first_mm=len(entry.first_mm),
                    second_mm=len(entry.second_mm),
                ),
                "/second_mm",
            )
    if entry.length_m is not None:
        check_number(entry.length_m, 0.1, 100_000, "/length_m", "m", found)
    found.refuse()
    FilamentReading.objects.create(
        lot_id=lot.lot_id,
        first_mm=list(entry.first_mm),
        second_mm=list(entry.second_mm),
        length_m=entry.length_m,
        measured_at=at,
        written_at=timezone.now(),
        actor=actor.reference,
    )
    return lot.code
