"""How the masses of a period became known, which to doubt, and samples of bottles."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from recycling.calc.balance.known_masses import ASSUMPTIONS, Known, doubts, scale_doubts
from recycling.calc.balance.weighing import HOW_KNOWN, totals_by_how_known
from recycling.models import BottleSample
from recycling.queries.balance.balance import checked_period
from recycling.queries.balance.closures import ASSUMED_KEYS
from recycling.queries.balance.covered import covered
from recycling.queries.balance.known_masses import Figure, Instruments, figures, shown
from recycling.records.actors import Actor
from recycling.records.balance.known_masses import (
    CountedMass,
    HowKnown,
    SampleRecord,
    WeighingOverview,
)
from recycling.stages import COUNTING, RECEIVING

MOST_DOUBTFUL = 50


def weighings(actor: Actor, start: datetime, end: datetime) -> WeighingOverview:
    """Total the masses of a period by how they became known, and list those to doubt.

    Raises
    ------
    Refused
        When the period ends before it starts.
    """
    checked_period(start, end)
    instruments = Instruments(actor.workshop_id)
    inside = Q(entry__happened_at__gte=start, entry__happened_at__lt=end)
    not_counted = ~Q(entry__process__run__stage__in=COUNTING)
    found = figures(actor.workshop_id, inside & not_counted, instruments)
    weighed = [one for one in found if not one.by_book]
    received = [one for one in weighed if one.row["run_stage"] in RECEIVING]
    given = [one for one in weighed if one.sign < 0 and one.row["run_stage"] not in RECEIVING]
    doubtful = [one for one in reversed(weighed) if doubts(one.known)]
    return WeighingOverview(
        received=_totals(received),
        drawn=_totals(one for one in weighed if one.sign > 0),
        given=_totals(given),
        by_book_mg=sum(abs(one.mass_mg) for one in found if one.by_book),
        assumed=sum(one.sure.basis in ASSUMPTIONS for one in weighed),
        doubtful=tuple(shown(one, instruments) for one in doubtful[:MOST_DOUBTFUL]),
        more=max(len(doubtful) - MOST_DOUBTFUL, 0),
        samples=tuple(samples(actor)),
        scales=tuple(
            f"{scale.name}: {doubt.sentence}"
            for scale in instruments.usual
            for doubt in scale_doubts(scale)
        ),
        rests_on=tuple(instruments.practice[key] for key in ASSUMED_KEYS),
    )


def _totals(listed: Iterable[Figure]) -> tuple[HowKnown, ...]:
    counted: dict[str, int] = dict.fromkeys(HOW_KNOWN, 0)
    masses = []
    for one in listed:
        counted[one.known.how] += 1
        masses.append((one.known.how, one.measured.times(-one.sign)))
    totals = totals_by_how_known(masses)
    return tuple(
        HowKnown(how, counted[how], round(abs(one.value)), one.u, covered(one))
        for how, one in totals.items()
        if counted[how]
    )


def counted_mass_of(actor: Actor, sample: SampleRecord, count: int) -> CountedMass:
    """Say what a number of counted bottles weighs, from a sample of such bottles."""
    mass_mg = round(count * sample.mean_mg)
    instruments = Instruments(actor.workshop_id)
    scale = next((one for one in instruments.usual if one.name == sample.scale), None)
    known = Known(
        mass_mg,
        "counted",
        scale=scale,
        count=count,
        sample_mg=sample.masses_mg,
        sample=sample.name,
    )
    mass = instruments.sureness(known).of(mass_mg)
    return CountedMass(sample, count, mass_mg, mass.u, covered(mass))


def samples(actor: Actor) -> list[SampleRecord]:
    """List samples of bottles by name, with mean and spread."""
    rows = list(BottleSample.objects.filter(workshop_id=actor.workshop_id).order_by("name"))
    instruments = Instruments(actor.workshop_id)
    return [_sample(one, instruments) for one in rows]


def sample_means(actor: Actor) -> dict[str, float]:
    """Give the mean mass of each sample's bottles in mg, by the sample's name."""
    found = BottleSample.objects.filter(workshop_id=actor.workshop_id).order_by("name")
    return {name: _mean_mg(masses) for name, masses in found.values_list("name", "masses_mg")}


def _mean_mg(masses_mg: list[int]) -> float:
    return math.fsum(masses_mg) / len(masses_mg)


def _sample(one: BottleSample, instruments: Instruments) -> SampleRecord:
    bottles = len(one.masses_mg)
    mean_mg = _mean_mg(one.masses_mg)
    spread_mg = math.sqrt(math.fsum((x - mean_mg) ** 2 for x in one.masses_mg) / (bottles - 1))
    scale = instruments.scales.get(one.scale_id or 0)
    masses = tuple(one.masses_mg)
    known = Known(bottles, "counted", scale=scale, sample_mg=masses, sample=one.name)
    mean = instruments.mean_of(known)
    return SampleRecord(
        id=one.pk,
        name=one.name,
        scale=scale.name if scale else "",
        note=one.note,
        taken_date=one.taken_date,
        masses_mg=masses,
        mean_mg=mean_mg,
        spread_mg=spread_mg,
        u_mean_mg=mean.u,
        covered=covered(mean),
    )
