"""Corrections that flow on, voids with what followed and Undo by program; trials change nothing."""

from __future__ import annotations

import pytest

from tests.api.conftest import MORNING, Shop, codes_of, sorting


@pytest.fixture
def run(shop: Shop) -> dict:
    return shop.api.post("/runs/", sorting(shop, inputs=[{"lot": shop.bottles, "all": True}]))


def figure(shop: Shop) -> int:
    return shop.api.read(f"/lots/{shop.bottles}/")["postings"][0]["posting"]


def test_a_trial_says_what_the_correction_then_does(shop: Shop, run):
    path = f"/postings/{figure(shop)}/corrections/"
    body = {"mass": "9 kg", "reason": "tare"}
    refused = shop.api.send("POST", path, body)
    assert refused.status_code == 422 and codes_of(refused.json())[0][0] == "lot-overdrawn"
    trial = shop.api.post(path + "trial/", {**body, "flow": True}, 200)
    assert shop.api.read(f"/runs/{run['code']}/")["inputs_mg"] == 10_000_000
    done = shop.api.post(path, {**body, "flow": True})
    assert done == trial
    drawn = next(one for one in done["changes"] if one["figure"] == "drawn")
    assert (drawn["run"], drawn["before_mg"], drawn["after_mg"]) == (
        run["code"],
        10_000_000,
        9_000_000,
    )
    undone = shop.api.post(path + "undo/", {}, 200)
    assert undone["run"] and shop.api.read(f"/runs/{run['code']}/")["inputs_mg"] == 10_000_000


def test_a_run_is_voided_with_what_followed(shop: Shop, run):
    made = run["outputs"][0]["lot"]
    shred = {
        "stage": "shred",
        "started_at": run["ended_at"],
        "ended_at": run["ended_at"],
        "machine": "shredder 1",
        "inputs": [{"lot": made, "mass": "1 kg"}],
        "outputs": [{"form": "flake", "mass": "900 g"}],
    }
    after = shop.api.post("/runs/", shred)
    path, body = f"/runs/{run['code']}/void/", {"reason": "never was", "with_descendants": True}
    trial = shop.api.post(path + "trial/", body, 200)
    assert shop.api.read(f"/runs/{after['code']}/")["state"] == "closed"
    assert shop.api.post(path, body, 200) == trial
    assert trial["voided"] == [after["code"], run["code"]]
    assert shop.api.read(f"/lots/{shop.bottles}/")["mass_mg"] == 10_000_000


def test_undo_by_program(shop: Shop, run):
    path = f"/runs/{run['code']}/undo/"
    other = shop.programs["operator"].send("POST", path, {})
    assert other.status_code == 422 and codes_of(other.json()) == [("undo-over", "")]
    assert shop.api.post(path, {}, 200)["voided"] == [run["code"]]


def test_a_part_of_an_open_run_is_undone_by_program(shop: Shop):
    begun = {"stage": "sort", "state": "open", "started_at": MORNING}
    path = f"/runs/{shop.api.post('/runs/', begun)['code']}"
    draw = {"lot": shop.bottles, "mass": "2 kg"}
    first = shop.api.post(f"{path}/draws/", draw)["undo_until"]
    until = shop.api.post(f"{path}/outputs/", {"form": "clean bottles", "mass": "1 kg"})[
        "undo_until"
    ]
    stale = shop.api.post(f"{path}/undo/", {"undo_until": first}, 422)
    assert codes_of(stale) == [("undo-over", "")]
    assert shop.api.post(f"{path}/undo/", {"undo_until": until}, 200)["voided"] == []
    run = shop.api.read(f"{path}/")
    assert (run["state"], run["in_process_mg"]) == ("open", 2_000_000)
    shop.api.post(f"{path}/undo/", {"undo_until": first}, 200)
    assert shop.api.read(f"/lots/{shop.bottles}/")["mass_mg"] == 10_000_000
