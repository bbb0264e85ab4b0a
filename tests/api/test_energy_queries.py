"""Answers about energy ask the database as often for many runs as for few."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.api.test_energy import counter, drying

MOST = {"runs": 12, "lots": 9, "lot energy": 10, "energy runs": 9, "energy stages": 9}


@pytest.fixture
def addresses(shop, api) -> dict[str, str]:
    run = api.post("/runs/", drying(shop))
    api.post("/energy/readings/", counter(100.0, 103.0))
    lot = run["lots"][0]["code"]
    period = "?from=2020-01-01T00:00:00Z"
    return {
        "runs": f"/runs/{run['code']}/",
        "lots": f"/lots/{lot}/",
        "lot energy": f"/lots/{lot}/energy/",
        "energy runs": f"/energy/runs/{period}",
        "energy stages": f"/energy/stages/{period}",
    }


def counts(api, addresses: dict[str, str]) -> dict[str, int]:
    found = {}
    for name, address in addresses.items():
        with CaptureQueriesContext(connection) as queries:
            api.get(address)
        found[name] = len(queries)
    return found


def test_answers_ask_no_more_often_when_there_is_more(shop, api, addresses):
    counts(api, addresses)
    few = counts(api, addresses)
    assert {name: n for name, n in few.items() if n > MOST[name]} == {}
    flake = next(
        one["lot"] for one in api.read(addresses["runs"])["inputs"] if one["form"] == "flake"
    )
    for turn in range(8):
        made = {"form": "dried flake", "mass": "100 g"}
        at = f"2024-06-0{turn + 1}"
        run = {
            "stage": "dry",
            "machine": "oven",
            "started_at": f"{at}T08:00:00Z",
            "ended_at": f"{at}T12:00:00Z",
            "inputs": [{"lot": flake, "mass": "100 g"}],
            "outputs": [made],
        }
        api.post("/runs/", run)
    assert counts(api, addresses) == few
