"""By programs: what is unusual is taken, said in the answer, and stands on what descends."""

from __future__ import annotations

from recycling.queries.integrity.audit import audit
from tests.api.conftest import MORNING, NOON
from tests.factories import KG


def whole(stage: str, lot: str, mass: str, **more):
    taken = {"inputs": [{"lot": lot, "mass": mass}]}
    return {"stage": stage, "started_at": MORNING, "ended_at": NOON, **taken, **more}


def keys(answer) -> list[str]:
    return [one["key"] for one in answer["deviations"]]


def test_undried_flake_is_taken_and_stays_with_the_spool(shop):
    body = whole(
        "extrude",
        shop.flake,
        "2 kg",
        machine="extruder 1",
        outputs=[{"form": "filament", "mass": "1.9 kg", "spool": {"diameter_mm": 1.75}}],
    )
    done = shop.api.post("/runs/", body)
    assert keys(done) == ["fed-undried"]
    (said,) = done["deviations"]
    assert said["lot"] == shop.flake and said["run"] == done["code"]
    assert said["said"] == (
        f"{shop.flake} (flake of PET) went into the melt without having been dried: damp PET"
        " loses strength there."
    )
    assert keys(shop.api.read(f"/runs/{done['code']}/")) == ["fed-undried"]
    spool = shop.api.read(f"/lots/{done['lots'][0]['code']}/")
    assert spool["deviations"] == done["deviations"]
    assert audit(shop.lead.workshop_id) == []


def test_an_open_run_says_it_while_it_goes_on(shop):
    opened = {"stage": "shred", "state": "open", "started_at": MORNING, "machine": "shredder 1"}
    run = shop.api.post("/runs/", opened)
    assert keys(run) == []
    here = f"/runs/{run['code']}"
    drawn = shop.api.post(f"{here}/draws/", {"lot": shop.bottles, "mass": "1 kg", "at": NOON})
    assert keys(drawn) == ["form-unusual"]
    drawn = shop.api.post(f"{here}/draws/", {"lot": shop.caps, "mass": "100 g", "at": NOON})
    assert keys(drawn) == ["form-unusual", "polymers-mixed"]
    given = shop.api.post(f"{here}/outputs/", {"form": "flake", "mass": "1 kg", "at": NOON})
    assert given["lots"][0]["polymer"] == "mixed"
    back = {"form": "caps", "polymer": "HDPE", "role": "returned", "mass": "90 g", "at": NOON}
    assert shop.api.post(f"{here}/outputs/", back)["lots"][0]["role"] == "returned"
    closed = shop.api.post(f"{here}/close/", {"ended_at": NOON}, status=200)
    assert keys(closed) == ["form-unusual", "polymers-mixed"]
    lots = [one["lot"] for one in closed["outputs"]]
    assert keys(shop.api.read(f"/lots/{lots[0]}/")) == ["form-unusual", "polymers-mixed"]
    assert audit(shop.lead.workshop_id) == []


def test_what_is_usual_says_nothing(shop):
    body = whole("dry", shop.flake, "2 kg", outputs=[{"form": "dried flake", "mass": "1.99 kg"}])
    body["machine"] = "dryer 1"
    assert keys(shop.api.post("/runs/", body)) == []


def test_a_product_is_shaped_with_a_count(shop):
    body = whole("shape", shop.dried, "500 g", machine="extruder 1")
    body |= {"outputs": [{"form": "product", "mass": "480 g", "count": 12}]}
    body |= {"checks": [{"key": "made", "value": "hooks"}, {"key": "how", "value": "pressed"}]}
    done = shop.api.post("/runs/", body)
    assert keys(done) == [] and done["lots"][0]["form"] == "product"
    assert shop.api.read(f"/lots/{done['lots'][0]['code']}/")["count"] == 12


def test_the_list_of_stages_says_what_is_usual(shop):
    stages = {one["key"]: one for one in shop.api.read("/stages/")["rows"]}
    usual = stages["extrude"]["usual"]
    assert {"form": "dried flake", "polymers": "any"} in usual
    assert {"form": "flake", "polymers": "needs no drying"} in usual
    assert [key for key, one in stages.items() if one["melts"]] == ["extrude", "shape"]
    assert [key for key, one in stages.items() if one["dries"]] == ["dry"]


def test_what_cannot_be_is_refused_all_the_same(shop):
    heel = {"form": "heel", "polymer": "PET", "mass_mg": KG // 20, "machine": "extruder 1"}
    opening = {"counted_at": MORNING, "bags": [heel]}
    lot = shop.api.post("/openings/", opening)["lots"][0]["code"]
    for stage in ("shred", "dry", "blend"):
        answer = shop.api.post("/runs/", whole(stage, lot, "10 g"), status=422)
        assert "form-wrong" in [one["code"] for one in answer["errors"]]
    more = shop.api.post("/runs/", whole("shred", shop.bottles, "11 kg"), status=422)
    assert [one["code"] for one in more["errors"]] == ["lot-overdrawn"]
