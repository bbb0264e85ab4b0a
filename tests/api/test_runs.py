"""Runs through the API: whole, as they happen, corrected, voided, counted."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone

from recycling.records.lots.origin_entries import BagEntry
from tests.api.conftest import MORNING, NOON, codes_of, sorting
from tests.factories import KG, G, OriginFactory


def test_run_record_answers_with_codes_and_closure(shop, api):
    run = api.post("/runs/", sorting(shop))
    assert [lot["form"] for lot in run["lots"]] == ["clean bottles", "caps"]
    assert run["unaccounted_mg"] == 50 * G
    assert (run["closure"]["direction"], run["closure"]["state"]) == ("loss", "usual")
    assert {figure["basis"] for figure in run["figures"]} <= {"assumed scale", "scale"}
    assert run["stage_yield"] == 0.92
    assert not run["gain"]
    again = api.read(f"/runs/{run['code']}/")
    until = datetime.fromisoformat(run.pop("undo_until"))
    assert timedelta(0) < until - timezone.now() <= timedelta(minutes=settings.UNDO_MINUTES)
    assert {**again, "lots": run["lots"], "doubts": []} == {**run, "energy": None}
    assert api.read(f"/lots/{run['lots'][0]['code']}/")["mass_mg"] == 4_600 * G


def test_the_answer_says_the_doubts_that_pages_say(shop, api):
    flake = (BagEntry(2 * KG, form="flake", polymer="PET"),)
    lot = OriginFactory(actor=shop.lead, bags=flake).lots[0].code
    body = {
        "stage": "dry",
        "started_at": MORNING,
        "ended_at": NOON,
        "inputs": [{"lot": lot, "all": True}],
        "outputs": [{"form": "dried flake", "mass": "2 kg"}],
        "checks": [{"key": "moisture_after_percent", "value": 0.4}],
    }
    doubts = [one["said"] for one in api.post("/runs/", body)["doubts"]]
    assert [
        one for one in doubts if one.startswith("0.4 % moisture after drying; the limit of PET")
    ]


def test_run_that_closes_exactly_says_so(shop, api):
    body = sorting(shop, losses=[{"account": "residue", "mass": "150 g"}])
    closure = api.post("/runs/", body)["closure"]
    assert (closure["direction"], closure["state"]) == ("even", "closed within weighing")


def test_outputs_heavier_than_inputs_are_a_gain(shop, api):
    run = api.post("/runs/", sorting(shop, losses=[{"account": "residue", "mass": "500 g"}]))
    assert run["unaccounted_mg"] == -350 * G
    assert run["gain"] and run["closure"]["direction"] == "gain"


def test_run_with_machine_by_id_and_operators(shop, api):
    machines = {row["name"]: row["id"] for row in api.read("/machines/")["rows"]}
    run = api.post(
        "/runs/",
        {
            "stage": "shred",
            "started_at": MORNING,
            "ended_at": NOON,
            "machine": machines["shredder 1"],
            "operators": ["operator"],
            "inputs": [{"lot": _clean(shop, api), "all": True}],
            "outputs": [{"form": "flake", "mass": "4.5 kg"}],
            "checks": [{"key": "largest_mm", "value": 4.2}],
            "note": "new blades",
        },
    )
    assert run["machine"] == "shredder 1" and run["operators"] == ["operator"]
    assert run["checks"][0]["value"] == "4.2" and run["checks"][0]["within"] is False


def _clean(shop, api) -> str:
    return api.post("/runs/", sorting(shop))["lots"][0]["code"]


def test_run_as_it_happens(shop, api):
    body = {
        "stage": "extrude",
        "state": "open",
        "machine": "extruder 1",
        "started_at": MORNING,
        "inputs": [{"lot": shop.dried, "mass": "2 kg"}],
        "settings": [{"key": "zone_1_c", "value": 262}],
    }
    run = api.post("/runs/", body)
    path = f"/runs/{run['code']}"
    assert (run["state"], run["in_process_mg"], run["closure"]) == ("open", 2 * KG, None)
    drawn = api.post(f"{path}/draws/", {"lot": shop.purge, "mass_mg": 500 * G, "at": MORNING})
    assert drawn["in_process_mg"] == 2_500 * G
    spool = {"form": "filament", "mass": "1 kg", "spool": {"tare": "210 g"}, "at": NOON}
    made = api.post(f"{path}/outputs/", spool)
    code = made["lots"][0]["code"]
    assert code.startswith("S") and api.read(f"/lots/{code}/")["spool"]["tare_mg"] == 210 * G
    api.post(f"{path}/losses/", {"account": "volatiles", "mass_mg": 4 * G, "how": "estimate"})
    logged = api.post(f"{path}/settings/", {"key": "zone_1_c", "value": "265", "seen": "even"})
    assert [one["value"] for one in logged["settings"]] == ["262", "265"]
    api.post(f"{path}/checks/", {"key": "clean_after_purge", "value": "yes"})
    closed = api.post(
        f"{path}/close/",
        {
            "outputs": [{"form": "changeover scrap", "mass_mg": 600 * G}],
            "heel": {"mass": "300 g"},
            "checks": [{"key": "seen", "value": "smooth"}],
        },
        status=200,
    )
    assert closed["state"] == "closed" and closed["unaccounted_mg"] == 596 * G
    assert [lot["form"] for lot in closed["lots"]] == ["changeover scrap", "heel"]
    late = api.post(f"{path}/draws/", {"lot": shop.dried, "mass": "1 g"}, status=409)
    assert codes_of(late) == [("run-not-open", "")]


def test_a_stock_count_is_a_run(shop, api):
    body = {
        "stage": "count",
        "started_at": MORNING,
        "ended_at": NOON,
        "counts": [{"lot": shop.bottles, "mass_mg": 9_990 * G}, {"lot": shop.caps, "mass_mg": 0}],
    }
    run = api.post("/runs/", body)
    assert [one["difference_mg"] for one in run["counts"]] == [-10 * G, -500 * G]
    assert api.read(f"/lots/{shop.caps}/")["mass_mg"] == 0


def test_posting_correct(shop, api):
    run = api.post("/runs/", sorting(shop))
    drawn = next(one for one in run["postings"] if one["lot"] == shop.bottles)
    path = f"/postings/{drawn['posting']}/corrections/"
    done = api.post(path, {"mass": "5.05 kg", "reason": "misread"})
    assert (done["before_mg"], done["after_mg"], done["delta_mg"]) == (5 * KG, 5_050 * G, -50 * G)
    assert api.read(f"/runs/{run['code']}/")["unaccounted_mg"] == 100 * G
    more = api.post(path, {"mass": "11 kg", "reason": "misread"}, status=422)
    assert codes_of(more) == [("lot-overdrawn", "")]
    same = api.post(path, {"mass_mg": 5_050 * G, "reason": "x"}, status=422)
    assert codes_of(same) == [("nothing-changed", "/mass_mg")]
    assert codes_of(api.post(path, {"mass_mg": 1, "reason": " "}, status=422)) == [
        ("reason-missing", "/reason")
    ]
    api.post("/postings/999999/corrections/", {"mass_mg": 1, "reason": "x"}, status=404)


def test_run_void(shop, api):
    first = api.post("/runs/", sorting(shop))
    later = api.post(
        "/runs/",
        {
            "stage": "discard",
            "started_at": NOON,
            "ended_at": NOON,
            "inputs": [{"lot": first["lots"][0]["code"], "mass": "1 kg"}],
            "checks": [
                {"key": "destination", "value": "landfill"},
                {"key": "why", "value": "dirty"},
            ],
        },
    )
    refused = api.post(f"/runs/{first['code']}/void/", {"reason": "x"}, status=422)
    assert codes_of(refused) == [("run-drawn-on", "")]
    assert later["code"] in refused["detail"]
    api.post(f"/runs/{later['code']}/void/", {"reason": "not thrown away"}, status=200)
    api.post(f"/runs/{first['code']}/void/", {"reason": "never happened"}, status=200)
    assert api.read(f"/runs/{first['code']}/")["state"] == "void"
    assert api.read(f"/lots/{shop.bottles}/")["mass_mg"] == 10 * KG


def test_runs_page_filters(shop, api):
    run = api.post("/runs/", sorting(shop, note="quiet morning"))
    listed = api.read("/runs/?stage=sort&state=closed&text=quiet")["rows"]
    assert [one["code"] for one in listed] == [run["code"]]
    assert api.read("/runs/?stage=dry")["rows"] == []
    assert len(api.read("/runs/")["rows"]) == 3


def test_a_run_is_guarded_by_its_etag(shop, api):
    body = {"stage": "dry", "state": "open", "machine": "dryer 1", "started_at": MORNING}
    run = api.post("/runs/", {**body, "inputs": [{"lot": shop.flake, "mass": "1 kg"}]})
    path = f"/runs/{run['code']}"
    tag = api.get(f"{path}/")["ETag"]
    api.get(f"{path}/", status=304, If_None_Match=tag)
    draw = {"lot": shop.flake, "mass": "1 kg"}
    api.post(f"{path}/draws/", draw, If_Match=tag)
    stale = api.post(f"{path}/draws/", draw, status=412, If_Match=tag)
    assert codes_of(stale) == [("changed-meanwhile", "")]
    assert api.read(f"{path}/")["in_process_mg"] == 2 * KG
    api.post(f"{path}/draws/", draw, If_Match=api.get(f"{path}/")["ETag"])


def test_every_declared_stage_is_offered(api):
    from recycling.stages import STAGES

    shown = api.read("/stages/")["rows"]
    assert [one["key"] for one in shown] == [stage.key for stage in STAGES]
    shred = next(one for one in shown if one["key"] == "shred")
    assert {"name": "dust", "text": shred["cautions"][1]["text"]} in shred["cautions"]
    assert shred["cautions"][-1]["name"] == "defer"
