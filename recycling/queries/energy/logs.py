"""Logs of machines: readings, samples, files and logged times, read once for many machines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from django.db.models import DateTimeField, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from recycling.calc.energy.intervals import EPOCH, METER, POWER, EnergyLog, Span, epoch_us
from recycling.calc.energy.logs import meter_log, power_log, rated_log, running_on
from recycling.calc.energy.stored import joined_log, stored_log
from recycling.models import EnergyChunk, EnergyFile, MeterReading, PowerBlock
from recycling.records.energy.entries import RAN_OVER
from recycling.tables.energy.packed import SAMPLES, STORED, unpacked

INTERVAL = "interval"
METHODS = {"power": POWER, "counter": METER, INTERVAL: METER}
SENT, TAKEN = "sent", "taken"
DAY_US = 86_400_000_000

Columns = tuple[np.ndarray, ...]


@dataclass(frozen=True)
class PartSpan:
    """A logged time of a machine's part, with what the part draws."""

    part_id: int
    span: Span
    rated_w: float
    duty: float


def machines_logs(
    edges_us: Mapping[int, Sequence[int]], parts: Mapping[int, Sequence[PartSpan]]
) -> dict[int, list[EnergyLog]]:
    """Give every log of machines that may speak for the times between their edges.

    `edges_us`, at least two for each machine, are moments at which something starts or ends there:
    only pieces of stored files that hold one are read, so that a file of any length costs the same.
    """
    if not edges_us:
        return {}
    hulls = {machine: (min(edges), max(edges)) for machine, edges in edges_us.items()}
    found: dict[int, list[EnergyLog]] = {machine: [] for machine in edges_us}
    for machine, log in (*_typed_meters(hulls), *_blocks(edges_us, hulls)):
        found[machine].append(log)
    for machine, spans in parts.items():
        if spans and machine in found:
            found[machine].append(rated_log(_rated(spans)))
    return found


def _moment(at_us: int) -> datetime:
    return EPOCH + timedelta(microseconds=at_us)


def _whole(hulls: Mapping[int, Span]) -> Span:
    return min(hull[0] for hull in hulls.values()), max(hull[1] for hull in hulls.values())


def _typed_meters(hulls: Mapping[int, Span]) -> Iterator[tuple[int, EnergyLog]]:
    """Read counters within the time, and the reading before and after it of each machine."""
    start, end = map(_moment, _whole(hulls))
    kept = MeterReading.objects.filter(machine__in=list(hulls), taken_back_at=None)
    same = MeterReading.objects.filter(machine_id=OuterRef("machine_id"), taken_back_at=None)
    before = same.filter(read_at__lte=start).order_by("-read_at").values("read_at")[:1]
    after = same.filter(read_at__gte=end).order_by("read_at").values("read_at")[:1]
    within = kept.filter(
        read_at__gte=Coalesce(Subquery(before), start, output_field=DateTimeField()),
        read_at__lte=Coalesce(Subquery(after), end, output_field=DateTimeField()),
    ).order_by("machine_id", "read_at")
    rows: dict[int, list[tuple[int, float, bool, bool]]] = defaultdict(list)
    columns = ("machine_id", "read_at", "reading_kwh", "is_reset", "fell_because")
    for machine, read_at, reading_kwh, is_reset, why in within.values_list(*columns):
        rows[machine].append((epoch_us(read_at), reading_kwh, is_reset, why == RAN_OVER))
    for machine, read in rows.items():
        if len(read) > 1:
            at_us, shown, fresh, over = zip(*read, strict=True)
            kwh = running_on(zip(shown, fresh, over, strict=True))
            resets = [place for place, is_reset in enumerate(fresh) if place and is_reset]
            yield machine, meter_log(at_us, kwh, resets=resets)


def _blocks(
    edges_us: Mapping[int, Sequence[int]], hulls: Mapping[int, Span]
) -> Iterator[tuple[int, EnergyLog]]:
    """Give a log of the power that was sent, and of all taken files one for each method."""
    needed = _needed(edges_us, hulls)
    sent = PowerBlock.objects.filter(pk__in=needed[SENT]).values_list(
        "machine_id", Value(0), Value(SENT), "first_us", "count", "points"
    )
    taken = EnergyChunk.objects.filter(pk__in=needed[TAKEN]).values_list(
        "file__machine_id", "file_id", "file__kind", "first_us", "count", "points"
    )
    parts: dict[tuple[int, int, str], list[tuple[int, Columns]]] = defaultdict(list)
    for machine, file, kind, first_us, count, points in sent.union(taken, all=True):
        columns = unpacked(bytes(points), count, SAMPLES if kind == SENT else STORED)
        parts[machine, file, kind].append((first_us, columns))
    pieces: dict[tuple[int, str], list[EnergyLog]] = defaultdict(list)
    for (machine, _, kind), read in parts.items():
        listed = [columns for _, columns in sorted(read, key=lambda one: one[0])]
        at_us, second, third = (np.concatenate(one) for one in zip(*listed, strict=True))
        if len(at_us) < 2:
            continue
        if kind == SENT:
            yield machine, power_log(at_us, second, max_gap_s=float(third.max()))
        else:
            alone = kind == INTERVAL
            log = stored_log(at_us, second, third, METHODS[kind], is_each_alone=alone)
            pieces[machine, METHODS[kind]].append(log)
    for (machine, _), logs in pieces.items():
        yield machine, joined_log(logs)


def _needed(
    edges_us: Mapping[int, Sequence[int]], hulls: Mapping[int, Span]
) -> dict[str, list[int]]:
    """Choose all power sent in the time; of files the pieces that hold an edge or stand beside it.

    What lies between those is known without them: each point says what was accumulated up to it.
    """
    first_us, last_us = _whole(hulls)
    sent = PowerBlock.objects.filter(
        machine__in=list(hulls), first_us__lt=last_us + DAY_US, last_us__gt=first_us - DAY_US
    ).values_list("machine_id", Value(0), "pk", "first_us", "last_us")
    taken = EnergyChunk.objects.filter(
        file__machine__in=list(hulls),
        file__state=EnergyFile.TAKEN,
        file__first_us__lt=last_us,
        file__last_us__gt=first_us,
    ).values_list("file__machine_id", "file_id", "pk", "first_us", "last_us")
    by_file: dict[tuple[int, int], list[tuple[int, int, int]]] = defaultdict(list)
    for machine, file, pk, first, last in sent.union(taken, all=True):
        by_file[machine, file].append((first, last, pk))
    needed: dict[str, list[int]] = {SENT: [], TAKEN: []}
    for (machine, file), rows in by_file.items():
        firsts, lasts, pks = (np.array(column) for column in zip(*sorted(rows), strict=True))
        if not file:
            needed[SENT] += pks.tolist()
            continue
        edges = np.array(edges_us[machine])
        after = np.clip(np.searchsorted(lasts, edges, side="left"), 0, len(pks) - 1)
        before = np.clip(np.searchsorted(firsts, edges, side="right") - 1, 0, len(pks) - 1)
        needed[TAKEN] += sorted({*pks[after].tolist(), *pks[before].tolist()})
    return needed


def _rated(spans: Iterable[PartSpan]) -> list[tuple[str, float, float, list[Span]]]:
    by_part: dict[int, list[PartSpan]] = defaultdict(list)
    for one in spans:
        by_part[one.part_id].append(one)
    return [
        (str(part), listed[0].rated_w / 1000, listed[0].duty, [one.span for one in listed])
        for part, listed in by_part.items()
    ]
