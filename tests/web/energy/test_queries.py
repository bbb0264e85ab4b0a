"""Pages of energy ask the database as often for many machines and runs as for few."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.records.energy.entries import PhaseEntry, ReadingSent, ReadingsEntry
from recycling.services.energy.notes import phase_add
from recycling.services.energy.readings import readings_keep
from tests.energy.conftest import Shop, at, setting
from tests.factories import KG, MachineFactory
from tests.web.energy.test_pages import places, shop

__all__ = ["places", "shop"]

MOST_QUERIES = 12
PAGES = [
    "energy/",
    "energy/?from=2020-01-01&stage=dry",
    "energy/?from=2020-01-01&format=csv",
    "lots/{spool}/energy/",
    "runs/{dry}/",
    "runs/{dry}/energy/",
    "runs/{going}/energy/?part=1",
    "runs/{done}/model/",
    "machines/{oven}/",
    "machines/{barrel}/",
    "machines/{oven}/times/new/",
    "machines/{oven}/phases/new/",
    "machines/{oven}/readings/new/",
    "machines/{oven}/files/new/",
    "machines/{oven}/parts/new/",
    "machines/{oven}/meter/",
    "machines/{oven}/time/{time}/take-back/",
    "practice/",
    "yields/?from=2020-01-01",
    "yields/?from=2020-01-01&stage=dry",
    "yields/?from=2020-01-01&by=source",
    "yields/?from=2020-01-01&by=operator",
]


def asked(lead, address: str) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        answer = lead.open(address)
    assert answer.status_code == 200, address
    if answer.streaming:
        with CaptureQueriesContext(connection) as rest:
            assert list(answer.streaming_content)
        queries.captured_queries.extend(rest.captured_queries)
    said = [query["sql"][:120] for query in queries.captured_queries]
    return [sql for sql in said if not sql.startswith(("BEGIN", "SET ", "COMMIT"))]


@pytest.fixture
def full(lead, shop, places, settings, tmp_path) -> dict[str, object]:
    """The places with power that was sent, a file that was taken, and a second extrusion."""
    settings.DATA_DIR = tmp_path
    oven = places["oven"]
    watts = tuple(ReadingSent(at(0) + timedelta(minutes=one), 700.0) for one in range(60))
    readings_keep(shop.actor, ReadingsEntry("Oven", "power", watts))
    rows = "".join(f"{(at(3) + timedelta(minutes=one)).isoformat()};600\n" for one in range(90))
    body = SimpleUploadedFile("log.csv", f"time;power_w\n{rows}".encode())
    form = {"zone": "UTC", "max_gap_min": "5", "repeated_hour": "by order", "rule": "trapezoid"}
    answer = lead.client.post(lead.url(f"machines/{oven}/files/new/"), {**form, "file": body})
    file = answer.url.rstrip("/").rpartition("/")[2]
    lead.send(f"energy/files/{file}/take/", {})
    _, dried = shop.dry(shop.bag(), 20, 25, 3 * KG, settings=(setting("real_c", 140, 20),))
    return {**places, "done": shop_run(lead, places["spool"]), "more": dried}


def shop_run(lead, spool: str) -> str:
    from recycling.models import Lot

    return Lot.objects.select_related("made_by").get(code=spool).made_by.code


def grow(shop: Shop, dried: str) -> None:
    """Work with three more machines, and much more on those that are there."""
    for name in ("Oven two", "Oven three"):
        MachineFactory(actor=shop.actor, name=name, kind="dryer")
        shop.on(shop.part(name, "heater", 900, 50), 30, 40)
        shop.reading(name, 29, 1)
        shop.reading(name, 41, 9)
    for turn in range(12):
        start = 100 + 6 * turn
        bag = shop.bag()
        shop.dry(bag, start, start + 5, settings=(setting("real_c", 140, start),))
        shop.reading("Oven", start, 20 + turn)
        phase_add(shop.actor, PhaseEntry(shop.machine("Oven"), "warm-up", at(start - 1), at(start)))
    watts = tuple(ReadingSent(at(90) + timedelta(minutes=one), 500.0) for one in range(9000))
    readings_keep(shop.actor, ReadingsEntry("Oven", "power", watts))


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_no_page_asks_more_than_twelve_times_nor_more_when_there_is_more(lead, shop, full):
    lead.open("energy/")
    few = {page: asked(lead, page.format(**full)) for page in PAGES}
    grow(shop, full["more"])
    many = {page: asked(lead, page.format(**full)) for page in PAGES}
    too_many = {page: queries for page, queries in many.items() if len(queries) > MOST_QUERIES}
    assert too_many == {}
    counts = {page: (len(few[page]), len(many[page])) for page in PAGES}
    assert {page: one for page, one in counts.items() if one[0] != one[1]} == {}
