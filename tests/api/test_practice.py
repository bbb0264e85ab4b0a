"""Practice, changeovers and measurements by request: what holds, what was planned and seen."""

from __future__ import annotations

from datetime import datetime

import pytest

from recycling.records.lots.origin_entries import BagEntry
from tests.api.conftest import MORNING, NOON, codes_of
from tests.factories import KG, OriginFactory

SHEET = "data sheet"
WIDE = {
    "material": "wide",
    "kind": "purge compound",
    "low_c": 170,
    "high_c": 320,
    "source": SHEET,
}
TO_PLA = {"after": "PLA", "start_c": 270, "target_c": 210, "residue_percent": 1}


def machine_of(shop, name: str) -> int:
    rows = shop.api.read("/machines/")["rows"]
    return next(row["id"] for row in rows if row["name"] == name)


@pytest.fixture
def extruder(shop) -> int:
    """An extruder with PET in a barrel of 41.5 g, and a compound that spans both windows."""
    bags = (BagEntry(60_000, form="heel", polymer="PET", machine="extruder 1"),)
    OriginFactory(actor=shop.lead, kind="opening", bags=bags)
    machine = machine_of(shop, "extruder 1")
    shop.api.post(f"/machines/{machine}/barrel/", {"holdup_g": 41.5, "source": "weighed"})
    shop.api.post("/practice/windows/", WIDE)
    return machine


def extrusion(shop, **changed) -> dict:
    return {
        "stage": "extrude",
        "machine": "extruder 1",
        "started_at": MORNING,
        "inputs": [{"lot": shop.dried, "mass": "1 kg"}],
        **changed,
    }


def spool_of(shop) -> str:
    """Extrude a spool of 1.75 mm within 0.05 mm and return its code."""
    spool = {
        "form": "filament",
        "mass_mg": KG,
        "spool": {"diameter_mm": 1.75, "tolerance_mm": 0.05},
    }
    body = extrusion(shop, ended_at=NOON, outputs=[spool])
    body["settings"] = [{"key": "zone_1_c", "value": 262, "at": MORNING}]
    run = shop.api.post("/runs/", body)
    return next(lot["code"] for lot in run["lots"] if lot["form"] == "filament")


def test_a_limit_is_changed_with_its_source(shop, api):
    before = {row["key"]: row for row in api.read("/practice/")["rows"]}
    assert before["wait_min"]["own"] is False
    changed = api.post("/practice/", {"key": "wait_min", "value": 14.5, "source": " own trials "})
    assert (changed["value"], changed["source"], changed["own"]) == (14.5, "own trials", True)
    after = {row["key"]: row for row in api.read("/practice/")["rows"]}
    assert after == {**before, "wait_min": changed}


@pytest.mark.parametrize(
    "body, wrong",
    [
        ({"key": "wait", "value": 5, "source": "x"}, ("field-unknown", "/key")),
        ({"key": "wait_min", "value": 241, "source": "x"}, ("number-out-of-bounds", "/value")),
        ({"key": "wait_min", "value": "5", "source": "x"}, ("number-wanted", "/value")),
        ({"key": "wait_min", "value": 5, "source": " "}, ("text-missing", "/source")),
    ],
)
def test_a_limit_that_is_none_is_named_by_its_place(api, body, wrong):
    before = api.read("/practice/")
    assert codes_of(api.post("/practice/", body, status=422)) == [wrong]
    assert api.read("/practice/") == before


def test_windows_are_set_and_the_newest_counts(api):
    api.post("/practice/windows/", WIDE)
    assert api.post("/practice/windows/", {**WIDE, "high_c": 330})["high_c"] == 330
    rows = {row["material"]: row for row in api.read("/practice/windows/")["rows"]}
    assert rows["wide"] == {
        **WIDE,
        "high_c": 330,
        "own": True,
        "low_source": "",
        "high_source": "",
    }
    # injection moulding guide of Santa Clara University: PET at 265 to 290 °C
    pet, ps = rows["PET"], rows["PS"]
    assert (pet["low_c"], pet["high_c"], pet["own"]) == (265, 290, False)
    assert "Santa Clara" in ps["low_source"] and ps["high_source"] == "default, not checked"
    backward = api.post("/practice/windows/", {**WIDE, "high_c": 160}, status=422)
    assert codes_of(backward) == [("window-wrong", "/high_c")]


def test_a_recipe_is_set_by_its_numbers(api):
    values = {"least_c": 135, "most_c": 155, "time_h": 5.5}
    body = {"polymer": "PET", "kind": "drying", "values": values, "source": SHEET}
    assert api.post("/practice/materials/", body) == {**body, "own": True, "sources": {}}
    rows = api.read("/practice/materials/?kind=drying")["rows"]
    assert {row["polymer"]: row["values"] for row in rows}["PET"] == values
    every = api.read("/practice/materials/")["rows"]
    assert {row["kind"] for row in every} == {"limits", "drying", "heats", "hydrolysis", "regain"}
    assert (
        b"values.time_h" in api.get("/practice/materials/?kind=drying", Accept="text/csv").content
    )


@pytest.mark.parametrize(
    "values, wrong",
    [
        ([5], ("object-wanted", "/values")),
        ({"least_c": "a"}, ("number-wanted", "/values/least_c")),
        ({"least_c": 130, "most_c": 160}, ("number-missing", "/values/time_h")),
        ({"least_c": 160, "most_c": 130, "time_h": 5}, ("window-wrong", "/values/most_c")),
        (
            {"least_c": 130, "most_c": 160, "time_h": 5, "time/min": 5},
            ("field-unknown", "/values/time~1min"),
        ),
    ],
)
def test_a_recipe_that_is_none_is_named_by_its_place(api, values, wrong):
    body = {"polymer": "PET", "kind": "drying", "values": values, "source": SHEET}
    assert codes_of(api.post("/practice/materials/", body, status=422)) == [wrong]


def test_limits_of_a_plastic_are_set_and_what_takes_up_water_needs_its_most(api):
    values = {"hygroscopic": 1, "hydrolyses": 0}
    body = {"polymer": "PLA", "kind": "limits", "values": values, "source": SHEET}
    assert codes_of(api.post("/practice/materials/", body, status=422)) == [
        ("number-missing", "/values/moisture_percent")
    ]
    half = {**body, "values": {"hygroscopic": 0.5, "hydrolyses": 0, "moisture_percent": 1}}
    assert codes_of(api.post("/practice/materials/", half, status=422)) == [
        ("choice-wrong", "/values/hygroscopic")
    ]
    dry = {**body, "values": {"hygroscopic": 0, "hydrolyses": 0}}
    assert api.post("/practice/materials/", dry)["own"]


def test_only_a_lead_changes_how_the_workshop_works(shop):
    body = {"key": "wait_min", "value": 14, "source": "x"}
    shop.programs["operator"].post("/practice/", body, status=403)
    assert shop.programs["viewer"].read("/practice/")["rows"]


def test_a_plan_is_tried_kept_and_held_against_what_it_took(shop, api, extruder):
    # Levenspiel 1999: one stirred tank of 41.5 g down to 5 %: 41.5 ln 20 = 124.3 g; then 275 to
    # 210 °C at 1.5 K/min and 12 min at 2 g/min: 110.7 g
    tried = api.post(f"/machines/{extruder}/changeovers/trial/", TO_PLA, status=200)
    assert (tried["purge"], tried["purge_g"]) == ("wide", pytest.approx(124.3 + 110.7, abs=0.1))
    assert tried["minutes"] == pytest.approx(5 / 3 + 12 + 55.3 + (124.3 + 191.1) / 8, abs=0.1)
    short = {one["material"]: one["enough"] for one in tried["needs"]}
    assert short == {"PET": True, "wide": True, "PLA": False}
    assert tried["warnings"][0].startswith("PLA: 191 g needed, 0 g in stock.")
    desk = api.read(f"/machines/{extruder}/changeovers/")
    assert (desk["before"], desk["heel_mg"], desk["kept"]) == ("PET", 60_000, [])
    kept = api.post(f"/machines/{extruder}/changeovers/", TO_PLA)
    assert kept["plan"] == tried
    used = api.post(
        f"/changeovers/{kept['id']}/used/", {"purge_used_mg": 230_258, "seen": "grey streaks"}
    )
    assert (used["purge_used_mg"], used["flush_used_mg"]) == (230_258, None)
    assert api.read(f"/changeovers/{kept['id']}/") == used
    desk = api.read(f"/machines/{extruder}/changeovers/")
    # m = H ln(1/0.01) = 4.60517 H, so 230.258 g are a hold-up of 50 g
    assert desk["refit"] == {
        "holdup_g": pytest.approx(50, abs=1e-3),
        "u_holdup_g": None,
        "half_g": None,
        "uses": 1,
    }
    again = api.post(f"/changeovers/{kept['id']}/used/", {"purge_used": "1 g"}, status=409)
    assert codes_of(again) == [("used-already", "")]
    steps = api.get(f"/changeovers/{kept['id']}/", Accept="text/csv").content.decode()
    assert len(steps.splitlines()) == 1 + len(tried["steps"])


def test_a_plan_of_an_earlier_moment_goes_from_what_was_in_the_machine(shop, api, extruder):
    address = f"/machines/{extruder}/changeovers/"
    kept = api.post(address, {**TO_PLA, "at": NOON})["plan"]
    assert (kept["before"], datetime.fromisoformat(kept["at"])) == (
        "PET",
        datetime.fromisoformat(NOON),
    )
    early = api.post(address, {**TO_PLA, "at": "2001-01-01T00:00:00Z"}, status=422)
    assert codes_of(early) == [("barrel-empty", "/at")]
    late = api.post(address, {**TO_PLA, "at": "2999-01-01T00:00:00Z"}, status=422)
    assert codes_of(late) == [("time-in-future", "/at")]


def test_what_cannot_be_planned_is_said_and_not_kept(shop, api, extruder):
    address = f"/machines/{extruder}/changeovers/"
    same = api.post(address, {"after": "PET"}, status=422)
    assert codes_of(same) == [("polymer-same", "/after")]
    assert codes_of(api.post(address, {"after": "PA"}, status=422)) == [
        ("window-missing", "/after")
    ]
    hot = api.post(address, {**TO_PLA, "start_c": 501}, status=422)
    assert codes_of(hot) == [("number-out-of-bounds", "/start_c")]
    api.post("/practice/windows/", {**WIDE, "high_c": 230})
    trial = api.post(f"{address}trial/", TO_PLA, status=200)
    assert trial["possible"] is False and trial["warnings"]
    assert codes_of(api.post(address, TO_PLA, status=422)) == [("plan-impossible", "/after")]
    assert api.read(address)["kept"] == []


def test_another_workshops_machine_and_plan_do_not_exist(shop, other_shop, extruder):
    plan = shop.api.post(f"/machines/{extruder}/changeovers/", TO_PLA)["id"]
    heel = shop.api.read(f"/machines/{extruder}/changeovers/")["heel"]
    theirs = other_shop.api
    theirs.get(f"/machines/{extruder}/changeovers/", status=404)
    theirs.post(f"/machines/{extruder}/changeovers/", TO_PLA, status=404)
    theirs.post(f"/machines/{extruder}/barrel/", {"holdup_g": 5, "source": "x"}, status=404)
    theirs.get(f"/changeovers/{plan}/", status=404)
    theirs.post(f"/changeovers/{plan}/used/", {"purge_used_mg": 1}, status=404)
    theirs.get(f"/lots/{heel}/checks/", status=404)
    theirs.get(f"/lots/{heel}/closest/", status=404)
    theirs.post(f"/lots/{heel}/particles/", {"sizes_mm": [3]}, status=404)
    theirs.post(f"/lots/{heel}/filament/", {"first_mm": [1.75]}, status=404)


def test_a_purge_is_proposed_before_an_extrusion_ends(shop, api):
    run = api.post("/runs/", extrusion(shop, state="open"))["code"]
    advice = api.read(f"/runs/{run}/shutdown/")["advice"]
    assert (advice["purge_g"], advice["done"]) == (50, False)  # common practice: about 50 g
    draw = {"lot": shop.purge, "mass": "50 g", "at": NOON}
    api.post(f"/runs/{run}/draws/", draw)
    assert api.read(f"/runs/{run}/shutdown/")["advice"]["done"] is True


def test_a_run_without_a_barrel_needs_no_purge(shop, api):
    body = {
        "stage": "dry",
        "state": "open",
        "machine": "dryer 1",
        "started_at": MORNING,
        "inputs": [{"lot": shop.flake, "mass": "1 kg"}],
    }
    run = api.post("/runs/", body)["code"]
    assert api.read(f"/runs/{run}/shutdown/") == {"advice": None}
    api.get(f"/runs/{run}/shutdown/", status=406, Accept="text/csv")


def test_particles_say_whether_to_feed(shop, api):
    address = f"/lots/{shop.flake}/particles/"
    (row,) = api.post(address, {"sizes_mm": [3.0] * 9 + [4.2], "measured_at": NOON})["particles"]
    # common practice: below 4 mm; Clopper and Pearson 1934, 1 of 10 at 95 %
    assert (row["above"], row["limit_mm"], row["decision"]) == (1, 4, "run again")
    assert (row["low"], row["high"]) == (
        pytest.approx(0.002529, abs=5e-7),
        pytest.approx(0.445016, abs=5e-7),
    )
    assert api.read(f"/lots/{shop.flake}/checks/")["particles"] == [row]
    wrong = api.post(address, {"sizes_mm": [3.0, -1]}, status=422)
    assert codes_of(wrong) == [("number-out-of-bounds", "/sizes_mm/1")]
    other = api.post(f"/lots/{shop.bottles}/particles/", {"sizes_mm": [3.0]}, status=422)
    assert codes_of(other) == [("form-wrong", "")]


def test_the_same_measurement_again_is_kept_once(shop, api):
    address, body = f"/lots/{shop.flake}/particles/", {"sizes_mm": [3.0]}
    api.post(address, body, Idempotency_Key="sieve-1")
    assert len(api.post(address, body, Idempotency_Key="sieve-1")["particles"]) == 1


def test_a_spool_is_measured_along_both_axes(shop, api):
    spool = spool_of(shop)
    address = f"/lots/{spool}/filament/"
    checks = api.post(address, {"first_mm": [1.78, 1.75], "second_mm": [1.72, 1.75]})
    found = checks["filament"]
    # twice (1.78 - 1.72) over (1.78 + 1.72): 3.43 %
    assert found["ovality_percent"] == pytest.approx(3.43, abs=0.005)
    assert (found["readings"], found["within"]) == (4, True)
    assert [one["value"] for one in checks["settings"]] == ["262"]
    wrong = api.post(address, {"first_mm": [1.75, 1.75], "second_mm": [1.75]}, status=422)
    assert codes_of(wrong) == [("axes-differ", "/second_mm")]
    assert api.read(f"/lots/{spool}/checks/") == checks


def test_closest_runs_share_the_sources_of_a_lot(shop, api):
    spool_of(shop)
    (row,) = api.read(f"/lots/{shop.dried}/closest/")["rows"]
    assert row["likeness"] == pytest.approx(1)
    assert "262" in row["settings"]
    assert (row["good"], row["bad"]) == (0, 0)
