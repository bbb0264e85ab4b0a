"""Recording a run and reading it ask the database a bounded number of times."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from django.db import connection
from django.test.utils import CaptureQueriesContext

from recycling.records.setup.entries import ContainerEntry
from recycling.services.setup.register import container_add
from tests.api.conftest import sorting
from tests.factories import KG, G

MOST_TO_READ = 17
MOST_TO_RECORD = 33
MOST_ON_A_SCALE = 44
"""By two people on a machine, on a named scale, with a setting, and a lot taken whole."""
LOCKED = 2
"""PostgreSQL claims the Idempotency-Key and locks the book; SQLite has one writer anyway."""
MARKS = ("BEGIN", "COMMIT", "SAVEPOINT", "RELEASE")
"""Marks of a transaction, which ask for nothing."""


def asked(call) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        call()
    return [one["sql"] for one in queries.captured_queries if not one["sql"].startswith(MARKS)]


def _locks() -> int:
    return LOCKED if connection.vendor == "postgresql" else 0


def drying(shop, turn: int) -> dict[str, object]:
    """Dry on a machine, taken whole where `turn` is odd, logged, with much unaccounted for."""
    part = {"lot": shop.flake, "mass": "100 g", "scale": "floor scale"}
    return {
        "stage": "dry",
        "machine": "dryer 1",
        "operators": ["operator", "Ada"],
        "started_at": f"2024-06-{turn + 1:02}T08:00:00Z",
        "ended_at": f"2024-06-{turn + 1:02}T12:00:00Z",
        "inputs": [{"lot": shop.flake, "all": True} if turn % 2 else part],
        "outputs": [{"form": "dried flake", "mass": "60 g", "scale": "floor scale"}],
        "settings": [{"key": "set_c", "value": "150"}],
    }


def test_a_whole_run_is_recorded_by_few_queries_however_many_went_before(shop, api):
    small = {"inputs": [{"lot": shop.bottles, "mass_mg": KG // 2}], "losses": []}
    small["outputs"] = [
        {"form": "clean bottles", "mass_mg": 400 * G},
        {"form": "caps", "polymer": "HDPE", "mass_mg": 20 * G},
    ]
    api.post("/runs/", sorting(shop, **small))
    counts = []
    for _ in range(3):
        counts.append(asked(lambda: api.post("/runs/", sorting(shop, **small))))
    assert {len(one) for one in counts} == {len(counts[0])}
    whole = asked(lambda: api.post("/runs/", sorting(shop)))
    assert len(whole) <= MOST_TO_RECORD + _locks(), whole


def test_a_run_on_a_machine_is_recorded_and_read_by_few_queries(shop, api):
    container_add(shop.lead, ContainerEntry("crate", 900 * G))
    for turn in range(4):
        body = drying(shop, turn)
        recording = asked(partial(api.post, "/runs/", body, Idempotency_Key=f"{turn}"))
        assert len(recording) <= MOST_ON_A_SCALE + _locks(), recording
        run = api.post("/runs/", body, Idempotency_Key=f"{turn}")
        assert run["operators"] == ["Ada", "operator"]
        reading = asked(lambda code=run["code"]: api.get(f"/runs/{code}/"))
        assert api.read(f"/runs/{run['code']}/")["energy"] is not None
        assert len(reading) <= MOST_TO_READ, reading
        if turn == 1:
            shop = _more(shop, api)


def _more(shop, api):
    bought = api.post(
        "/purchases/",
        {
            "supplier": "mill",
            "purchased_at": "2024-05-02T08:00:00Z",
            "bags": [{"form": "flake", "mass": "3 kg", "polymer": "PET"}],
        },
    )
    return replace(shop, flake=bought["lots"][0]["code"])
