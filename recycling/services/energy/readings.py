"""Keep what meters and plugs send, in bulk: all of it or nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise

from django.db.models import Sum
from django.utils import timezone

from recycling.calc.balance.typed_limits import meter_doubt
from recycling.calc.energy.intervals import epoch_us
from recycling.keeping.counters import Shown, check_reason, falls_asked, with_falls
from recycling.keeping.deed import deed
from recycling.keeping.doubted_figures import Asked
from recycling.keeping.doubts import kept_doubts, times_asked
from recycling.keeping.lookups import check_typed_moment, machine_named
from recycling.keeping.machines import check_number
from recycling.keeping.power_blocks import samples_add, samples_between
from recycling.models import Machine, MeterReading
from recycling.records.actors import Actor
from recycling.records.balance.doubts import EntryDoubt, Suggestion
from recycling.records.energy.entries import ReadingSent, ReadingsEntry, ReadingsKept
from shared.errors import Collected
from shared.said import say

COUNTER, POWER = "counter", "power"
MOST_READINGS = 50_000
MOST_VALUE = 1e9
MOST_NAMED = 100


@deed("record")
def readings_keep(actor: Actor, entry: ReadingsEntry) -> ReadingsKept:
    """Keep readings of a counter or samples of power; those that are there already stay.

    Raises
    ------
    Refused
        Naming every value that is wrong, that is there with another value, or above one that the
        book has of later; then nothing is kept.
    """
    found = Collected()
    machine = machine_named(actor.workshop_id, entry.machine, "/machine", found)
    if machine is None and not found.any:
        found.add("machine-unknown", "Say which machine.", "/machine")
    if entry.kind not in (COUNTER, POWER):
        found.add(
            "kind-unknown", say("One of {counter}, {power}.", counter=COUNTER, power=POWER), "/kind"
        )
    check_number(entry.max_gap_s, 1, 86_400, "/max_gap_s", "s", found)
    if not 1 <= len(entry.readings) <= MOST_READINGS:
        found.add(
            "readings-missing",
            say("From 1 to {most_readings} values.", most_readings=MOST_READINGS),
            "/readings",
        )
    _check_values(entry.readings, found)
    found.refuse()
    assert machine is not None
    known = _known(machine, entry)
    new = _new(entry.readings, known, found)
    places = {one.at: f"/readings/{place}" for place, one in enumerate(entry.readings)}
    rows = _counter(machine, new, places, found) if entry.kind == COUNTER else []
    found.refuse()
    asked = times_asked([(f"{places[one.at]}/at", one.at) for one in new])
    if rows:
        sent = [_shown(one, places) for one in new]
        asked += falls_asked(rows, sent, machine.name) + _jumps(machine, rows)
    doubts = kept_doubts(actor, None, asked)
    _keep(actor, machine, entry, new, rows)
    times = [one.at for one in entry.readings]
    kept = len(new)
    return ReadingsKept(machine.name, kept, len(times) - kept, min(times), max(times), doubts)


def _check_values(readings: Sequence[ReadingSent], found: Collected) -> None:
    seen: set[datetime] = set()
    for place, one in enumerate(readings):
        if len(found.problems) >= MOST_NAMED:
            return
        check_typed_moment(one.at, f"/readings/{place}/at", found)
        if one.at in seen:
            found.add("reading-twice", "This time stands here twice.", f"/readings/{place}/at")
        seen.add(one.at)
        if not (math.isfinite(one.reading) and 0 <= one.reading <= MOST_VALUE):
            found.add("number-out-of-bounds", "From zero up.", f"/readings/{place}/reading")


def _known(machine: Machine, entry: ReadingsEntry) -> dict[datetime, float]:
    times = [one.at for one in entry.readings]
    between = (min(times), max(times))
    if entry.kind == COUNTER:
        rows = machine.readings.filter(taken_back_at=None, read_at__range=between)
        return dict(rows.values_list("read_at", "reading_kwh"))
    known = samples_between(machine, *map(epoch_us, between))
    return {one: known[epoch_us(one)] for one in times if epoch_us(one) in known}


def _new(
    readings: Sequence[ReadingSent], known: dict[datetime, float], found: Collected
) -> list[ReadingSent]:
    new = []
    for place, one in enumerate(readings):
        if one.at not in known:
            new.append(one)
        elif known[one.at] != one.reading and len(found.problems) < MOST_NAMED:
            found.add(
                "reading-differs",
                say(
                    "The book has {known:g} at this time, not {reading:g}.",
                    known=known[one.at],
                    reading=one.reading,
                ),
                f"/readings/{place}/reading",
            )
    return sorted(new, key=lambda one: one.at)


def _shown(one: ReadingSent, places: Mapping[datetime, str]) -> Shown:
    return Shown(one.at, one.reading, one.reset, one.fell_because, places[one.at])


def _jumps(machine: Machine, rows: list[Shown]) -> list[Asked]:
    """Ask about a reading at which the counter ran faster than the plates of its machine allow."""
    plate_w = machine.parts.aggregate(all=Sum("rated_w"))["all"]
    asked = []
    for before, row in pairwise(rows):
        hours = (row.at - before.at).total_seconds() / 3600
        values = (before.reading_kwh, row.reading_kwh, hours, plate_w)
        if row.may_fall or row.place is None or not meter_doubt(*values):
            continue
        said = say(
            "{machine}: {counted:g} kWh within {hours:.2g} h are more than its plates allow.",
            machine=machine.name,
            counted=round(row.reading_kwh - before.reading_kwh, 3),
            hours=hours,
        )
        field = f"{row.place}/reading"
        tenth = row.reading_kwh / 10
        fits = not meter_doubt(before.reading_kwh, tenth, hours, plate_w)
        offered = (Suggestion(f"{tenth:.12g}"),) if fits else ()
        doubt = EntryDoubt(f"meter-jump:{field}:{row.reading_kwh:g}", said, field, offered)
        asked.append(Asked(doubt, row.reading_kwh - before.reading_kwh))
    return asked


def _counter(
    machine: Machine, new: list[ReadingSent], places: Mapping[datetime, str], found: Collected
) -> list[Shown]:
    """Give the counter with the new readings in it, those that fall counting from zero."""
    if not new or found.any:
        return []
    kept = machine.readings.filter(taken_back_at=None)
    around = kept.filter(read_at__range=(new[0].at, new[-1].at))
    ends = [
        kept.filter(read_at__lt=new[0].at).order_by("-read_at"),
        kept.filter(read_at__gt=new[-1].at).order_by("read_at"),
    ]
    columns = ("read_at", "reading_kwh", "is_reset", "fell_because")
    rows = [Shown(*row) for row in around.values_list(*columns)]
    rows += [Shown(*row) for end in ends for row in end.values_list(*columns)[:1]]
    rows += [_shown(one, places) for one in new]
    for row in rows:
        check_reason(row, found)
    return with_falls(sorted(rows, key=lambda row: row.at), found)


def _keep(
    actor: Actor,
    machine: Machine,
    entry: ReadingsEntry,
    new: list[ReadingSent],
    rows: list[Shown],
) -> None:
    if entry.kind == POWER:
        samples_add(machine, [(epoch_us(one.at), one.reading) for one in new], entry.max_gap_s)
        return
    stamp = {"machine": machine, "written_at": timezone.now(), "actor": actor.reference}
    MeterReading.objects.bulk_create(
        [
            MeterReading(
                read_at=one.at,
                reading_kwh=one.reading_kwh,
                is_reset=one.from_zero,
                fell_because=one.fell_because,
                **stamp,
            )
            for one in rows
            if one.place is not None
        ],
        batch_size=1000,
    )
