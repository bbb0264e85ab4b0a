"""Samples of power that programs sent: kept in blocks that never overlap, in time order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from django.db.models import Q, QuerySet

from recycling.models import Machine, PowerBlock
from recycling.tables.energy.packed import POINTS_IN_A_BLOCK, SAMPLES, packed, unpacked


def samples_between(machine: Machine, first_us: int, last_us: int) -> dict[int, float]:
    """Map the moments of the samples from one moment to another, both included, to their power."""
    found: dict[int, float] = {}
    for at_us, power_w, _ in _columns(_touching(machine, first_us, last_us)):
        inside = (at_us >= first_us) & (at_us <= last_us)
        found |= zip(at_us[inside].tolist(), power_w[inside].tolist(), strict=True)
    return found


def samples_add(machine: Machine, samples: Sequence[tuple[int, float]], max_gap_s: float) -> None:
    """Add samples at moments that have none yet, within the caller's transaction.

    The blocks that they fall into, and the last one before them while it has room, are written
    anew, so that one sample a minute fills blocks rather than making one each.
    """
    if not samples:
        return
    at_us, power_w = (np.array(column) for column in zip(*samples, strict=True))
    old = _touching(machine, int(at_us.min()), int(at_us.max()))
    before = machine.power.filter(last_us__lt=int(at_us.min())).order_by("-last_us")
    last = before.values_list("pk", "count").first()
    if last is not None and last[1] < POINTS_IN_A_BLOCK:
        old = machine.power.filter(Q(pk=last[0]) | Q(pk__in=old.values("pk")))
    new = (at_us.astype(np.int64), power_w.astype(float), np.full(len(at_us), float(max_gap_s)))
    kept = [np.concatenate(one) for one in zip(*_columns(old), new, strict=True)]
    order = np.argsort(kept[0], kind="stable")
    old.delete()
    _write(machine, [column[order] for column in kept])


def _touching(machine: Machine, first_us: int, last_us: int) -> QuerySet[PowerBlock]:
    return machine.power.filter(first_us__lte=last_us, last_us__gte=first_us)


def _columns(blocks: QuerySet[PowerBlock]) -> list[tuple[np.ndarray, ...]]:
    rows = blocks.order_by("first_us").values_list("count", "points")
    return [unpacked(bytes(points), count, SAMPLES) for count, points in rows]


def _write(machine: Machine, columns: Sequence[np.ndarray]) -> None:
    rows = []
    for first in range(0, len(columns[0]), POINTS_IN_A_BLOCK):
        part = [column[first : first + POINTS_IN_A_BLOCK] for column in columns]
        rows.append(
            PowerBlock(
                machine=machine,
                first_us=int(part[0][0]),
                last_us=int(part[0][-1]),
                count=len(part[0]),
                points=packed(part, SAMPLES),
            )
        )
    PowerBlock.objects.bulk_create(rows, batch_size=50)
