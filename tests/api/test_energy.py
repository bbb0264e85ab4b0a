"""Energy by request: values in bulk once and whole, and what runs, lots and stages took."""

from __future__ import annotations

from recycling.records.lots.origin_entries import BagEntry
from tests.api.conftest import MORNING, NOON, codes_of, sorting
from tests.factories import KG, MachineFactory, OriginFactory


def drying(shop) -> dict:
    """A whole drying run from morning to noon on a machine of the workshop."""
    MachineFactory(actor=shop.lead, name="oven", kind="dryer")
    bags = (BagEntry(5 * KG, form="flake"),)
    flake = OriginFactory(actor=shop.lead, bags=bags).lots[0].code
    return {
        "stage": "dry",
        "machine": "oven",
        "started_at": MORNING,
        "ended_at": NOON,
        "inputs": [{"lot": flake, "mass": "2 kg"}],
        "outputs": [{"form": "dried flake", "mass": "2 kg"}],
    }


def counter(*values: float, start: str = MORNING, end: str = NOON, **more: object) -> dict:
    pairs = zip((start, end), values, strict=True)
    readings = [{"at": at, "reading": value} for at, value in pairs]
    return {"machine": "oven", "kind": "counter", "readings": readings, **more}


def test_readings_of_a_meter_become_the_energy_of_a_run(shop, api):
    run = api.post("/runs/", drying(shop))["code"]
    assert api.read(f"/runs/{run}/")["energy"]["method"] == ""
    kept = api.post("/energy/readings/", counter(100.0, 103.0))
    assert (kept["kept"], kept["known"], kept["machine"]) == (2, 0, "oven")
    energy = api.read(f"/runs/{run}/")["energy"]
    assert (energy["kwh"], energy["kwh_per_kg"], energy["coverage"]) == (3.0, 1.5, 1.0)
    assert energy["sources"] == [
        {"method": "meter reading", "kwh": 3.0, "coverage": 1.0, "taken": True}
    ]
    lot = api.read(f"/runs/{run}/")["outputs"][0]["lot"]
    assert api.read(f"/lots/{lot}/energy/")["kwh"] == 3.0


def test_the_same_values_again_are_known(shop, api):
    drying(shop)
    api.post("/energy/readings/", counter(100.0, 103.0))
    again = api.post("/energy/readings/", counter(100.0, 103.0))
    assert (again["kept"], again["known"]) == (0, 2)


def test_what_is_wrong_is_named_by_its_place_and_nothing_is_kept(shop, api):
    drying(shop)
    twice = counter(1.0, -2.0, end=MORNING)
    answer = api.post("/energy/readings/", twice, status=422)
    assert codes_of(answer) == [
        ("reading-twice", "/readings/1/at"),
        ("number-out-of-bounds", "/readings/1/reading"),
    ]
    nobody = api.post("/energy/readings/", counter(5.0, 6.0) | {"machine": "kiln"}, status=422)
    assert codes_of(nobody) == [("machine-unknown", "/machine")]
    assert api.post("/energy/readings/", counter(5.0, 6.0))["kept"] == 2


def test_why_a_counter_fell_is_asked_of_each_that_is_sent(shop, api):
    """Over the run 100 → 103 → 2 kWh: with the fall counting from zero 5 kWh, as by hand."""
    code = api.post("/runs/", drying(shop))["code"]
    sent = counter(100.0, 2.0)
    sent["readings"].insert(1, {"at": "2024-01-08T09:00:00Z", "reading": 103.0})
    (doubt,) = api.post("/energy/readings/", sent)["doubts"]
    assert doubt["field"] == "/readings/2/fell_because"
    assert api.read(f"/runs/{code}/")["energy"]["kwh"] == 5.0
    sent["readings"] = [{"at": "2024-01-08T08:30:00Z", "reading": 150.0}]
    fell = api.post("/energy/readings/", sent, status=422)
    assert codes_of(fell) == [("counter-fell", "/readings/0/reading")]


def test_a_stage_says_its_energy_beside_its_masses(shop, api):
    api.post("/runs/", drying(shop))
    api.post("/runs/", sorting(shop))
    api.post("/energy/readings/", counter(100.0, 103.0))
    rows = {row["stage"]: row for row in api.read("/balance/stages/")["rows"]}
    assert rows["dry"]["kwh_per_kg"] == 1.5
    assert rows["dry"]["outputs_mg"] == {"product": 2 * KG}
    assert rows["sort"]["kwh_per_kg"] is None
    (stage,) = api.read("/energy/stages/")["rows"]
    assert (stage["stage"], stage["kwh"], stage["runs_logged"]) == ("dry", 3.0, 1)
    (run,) = api.read("/energy/runs/?stage=dry")["rows"]
    assert run["own_kwh"] == 3.0
    assert api.read("/energy/runs/?stage=dry&polymer=PLA")["rows"] == []
