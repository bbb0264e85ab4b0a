"""Power that was sent is kept in blocks; of a long file only what holds an edge is read."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from django.utils import timezone

from recycling.calc.energy.intervals import energy_between, epoch_us
from recycling.keeping.energy_files import keep_points
from recycling.keeping.power_blocks import samples_between
from recycling.models import EnergyFile, Machine, PowerBlock
from recycling.queries.energy.logs import machines_logs
from recycling.records.energy.entries import ReadingSent, ReadingsEntry
from recycling.services.energy.readings import readings_keep
from tests.energy.conftest import Shop, at

MINUTE = timedelta(minutes=1)


def send(shop: Shop, *minutes: int) -> None:
    sent = tuple(ReadingSent(at(0) + one * MINUTE, float(one)) for one in minutes)
    readings_keep(shop.actor, ReadingsEntry("Oven", "power", sent))


def blocks() -> list[tuple[int, int, int]]:
    rows = PowerBlock.objects.order_by("first_us").values_list("first_us", "last_us", "count")
    return list(rows)


def test_one_sample_a_minute_fills_a_block_rather_than_making_many(shop):
    for minute in range(30):
        send(shop, minute)
    assert [count for _, _, count in blocks()] == [30]


def test_samples_out_of_order_are_put_in_order_and_blocks_never_overlap(shop):
    send(shop, *range(0, 9000, 2))
    send(shop, *range(1, 9000, 2))
    kept = blocks()
    assert sum(count for *_, count in kept) == 9000
    assert all(a[1] < b[0] for a, b in zip(kept, kept[1:], strict=False))
    oven = Machine.objects.get(name="Oven")
    known = samples_between(oven, epoch_us(at(0)), epoch_us(at(0) + 9000 * MINUTE))
    assert list(known.values()) == [float(one) for one in range(9000)]


def test_of_a_long_file_few_pieces_tell_the_same_as_all(shop, django_assert_num_queries):
    rng = np.random.default_rng(8)
    count, start = 60_000, epoch_us(at(0))
    at_us = start + np.cumsum(rng.integers(1_000_000, 60_000_000, count))
    kwh, covered_us = np.cumsum(rng.uniform(0, 0.02, count)), at_us - at_us[0]
    points = Points(at_us, kwh, covered_us)
    oven = Machine.objects.get(name="Oven")
    file = EnergyFile.objects.create(
        workshop_id=shop.actor.workshop_id,
        machine=oven,
        name="long",
        digest="d",
        size_bytes=1,
        state=EnergyFile.TAKEN,
        kind="power",
        first_us=int(at_us[0]),
        last_us=int(at_us[-1]),
        brought_at=timezone.now(),
    )
    keep_points(file, points)
    between = (at_us[5 * 4096 - 1] + at_us[5 * 4096]) // 2
    edges = sorted([int(at_us[100]), int(between), int(at_us[9 * 4096 + 50])])
    with django_assert_num_queries(3):
        (log,) = machines_logs({oven.pk: edges}, {})[oven.pk]
    assert len(log.at_us) < count / 2
    for first, last in zip(edges, edges[1:], strict=False):
        expected = np.interp([first, last], at_us, kwh)
        found = energy_between(log, first, last)
        assert found.kwh == pytest.approx(expected[1] - expected[0], rel=1e-9)
        assert found.coverage == pytest.approx(1.0)


class Points(SimpleNamespace):
    """Columns of a file, as an import gives them."""

    def __init__(self, at_us: np.ndarray, kwh: np.ndarray, covered_us: np.ndarray) -> None:
        super().__init__(at_us=at_us, kwh=kwh, covered_us=covered_us)

    def __len__(self) -> int:
        return len(self.at_us)
