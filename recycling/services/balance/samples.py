"""Weigh a sample of the workshop's own bottles, so that others need only be counted."""

from __future__ import annotations

from django.utils import timezone

from recycling.keeping.changes import keep_change
from recycling.keeping.deed import deed
from recycling.keeping.lookups import scales_named
from recycling.keeping.texts import check_text
from recycling.keeping.weighing_rules import check_mass
from recycling.models import BottleSample
from recycling.records.actors import Actor
from recycling.records.balance.known_masses import SampleEntry
from shared.errors import Collected
from shared.said import say

MOST_BOTTLES = 200


@deed("record")
def sample_add(actor: Actor, entry: SampleEntry) -> int:
    """Keep a sample; return its id.

    Raises
    ------
    Refused
        When its name is taken, its scale unknown, or it has fewer than two bottles.
    """
    found, name = Collected(), entry.name.strip()
    if not name:
        found.add("name-missing", "Give it a name.", "/name")
    check_text(name, "/name", found, 80)
    check_text(entry.note, "/note", found, 500)
    if BottleSample.objects.filter(workshop_id=actor.workshop_id, name__iexact=name).exists():
        found.add("name-taken", say("There is a sample “{name}” already.", name=name), "/name")
    if not 2 <= len(entry.masses_mg) <= MOST_BOTTLES:
        found.add(
            "sample-too-small",
            say(
                "Weigh from 2 to {most_bottles} bottles, each by itself: the spread counts too.",
                most_bottles=MOST_BOTTLES,
            ),
            "/masses_mg",
        )
    for place, mass_mg in enumerate(entry.masses_mg):
        check_mass(mass_mg, f"/masses_mg/{place}", found)
    scale = scales_named(actor.workshop_id, [entry.scale]).get(entry.scale)
    if entry.scale and scale is None:
        found.add(
            "scale-unknown", say("There is no scale “{scale}” here.", scale=entry.scale), "/scale"
        )
    today = timezone.localdate()
    if entry.taken_date and entry.taken_date > today:
        found.add("time-in-future", "This day is still to come.", "/taken_date")
    found.refuse()
    sample = BottleSample.objects.create(
        workshop_id=actor.workshop_id,
        name=name,
        masses_mg=list(entry.masses_mg),
        scale=scale,
        taken_date=entry.taken_date or today,
        note=entry.note,
    )
    keep_change(actor, f"sample {sample.pk}", "add", {}, {"name": name})
    return sample.pk
