"""Collections, purchases and opening counts through the API."""

from __future__ import annotations

from tests.api.conftest import MORNING, NOON, codes_of, sorting
from tests.factories import KG, G


def test_collection_record(shop, api):
    body = {
        "source": "Hillside School",
        "programme": "Spring drive",
        "collected_at": "2024-01-08T14:00:00+02:00",
        "note": "rain",
        "bags": [
            {"polymer": "PET", "colour": "clear", "mass": "12.4 kg", "scale": "floor scale"},
            {"form": "caps", "polymer": "HDPE", "gross": "1.2 kg", "tare": "200 g", "count": 300},
        ],
    }
    made = api.post("/collections/", body)
    assert made["code"].startswith("C")
    assert [(lot["form"], lot["mass_mg"]) for lot in made["lots"]] == [
        ("bottles", 12_400 * G),
        ("caps", KG),
    ]
    shown = api.read(f"/collections/{made['code']}/")
    assert (shown["source"], shown["programme"]) == ("Hillside School", "Spring drive")
    assert shown["happened_at"] == NOON.replace("+00:00", "Z")
    assert shown["received_by"] == shop.lead.name
    assert sum(line["mass_mg"] for line in shown["fate"]) == shown["mass_mg"] == 13_400 * G
    first = api.read("/collections/?limit=1&source=Hillside+School")["rows"][0]
    assert (first["code"], first["lots"], first["mass_mg"]) == (made["code"], 2, 13_400 * G)


def test_source_and_programme_by_id(shop, api):
    source = api.read("/sources/")["rows"][0]["id"]
    programme = api.read("/programmes/")["rows"][0]["id"]
    body = {"collected_at": NOON, "bags": [{"polymer": "PET", "mass": "1 kg"}]}
    made = api.post("/collections/", {**body, "source": source, "programme": str(programme)})
    assert api.read(f"/collections/{made['code']}/")["source"] == "Hillside School"


def test_purchase_record(api):
    body = {
        "supplier": "Harbour Plastics",
        "document": "DN 5521",
        "purchased_at": MORNING,
        "bags": [{"form": "purge compound", "polymer": "purge", "mass": "25 kg"}],
    }
    made = api.post("/purchases/", body)
    assert made["code"].startswith("P") and made["kind"] == "purchase"
    listed = api.read("/purchases/?text=" + made["code"])["rows"]
    assert [row["supplier"] for row in listed] == ["Harbour Plastics"]
    assert made["code"] not in [row["code"] for row in api.read("/collections/")["rows"]]


def test_opening_record_with_a_machines_heel(api):
    bag = {"form": "heel", "polymer": "PET", "mass": "300 g", "how": "estimated"}
    body = {"counted_at": MORNING, "bags": [{**bag, "machine": "extruder 1"}]}
    made = api.post("/openings/", body)
    assert made["code"].startswith("O")
    lot = api.read(f"/lots/{made['lots'][0]['code']}/")
    assert (lot["machine"], lot["how"]) == ("extruder 1", "estimated")
    heels = {row["name"]: row["heel"] for row in api.read("/machines/")["rows"]}
    assert heels["extruder 1"] == lot["code"]
    assert len(api.read("/openings/")["rows"]) == 1
    bare = api.post("/openings/", {"counted_at": MORNING, "bags": [bag]}, status=422)
    assert codes_of(bare) == [("heel-machine", "/bags/0/machine")]


def test_a_bag_without_polymer_or_form_is_named(api):
    body = {"source": "Hillside School", "collected_at": NOON}
    bags = [{"mass": "1 kg"}, {"mass": "1 kg", "polymer": "XYZ", "form": "cans"}]
    missing = api.post("/collections/", {**body, "bags": bags}, status=422)
    assert codes_of(missing) == [("field-missing", "/bags/0/polymer")]
    unknown = api.post("/collections/", {**body, "bags": bags[1:]}, status=422)
    assert set(codes_of(unknown)) == {
        ("form-wrong", "/bags/0/form"),
        ("polymer-unknown", "/bags/0/polymer"),
    }


def test_a_collection_is_held_whole(shop, api):
    path = f"/collections/{shop.collection}/holds/"
    placed = api.post(path, {"reason": "solvent smell", "with_descendants": True})
    assert len(placed["holds"]) == 2 and placed["with_descendants"]
    assert {row["lot"] for row in api.read("/holds/")["rows"]} == {shop.bottles, shop.caps}
    assert codes_of(api.post(path, {"reason": "x"}, status=422))[0][0] == "hold-exists"
    api.post("/runs/", sorting(shop), status=422)


def test_a_collections_spools(shop, api):
    clean = api.post("/runs/", sorting(shop))["lots"][0]["code"]
    steps = [
        ("shred", "shredder 1", clean, [{"form": "flake", "mass": "4.5 kg"}], {}),
        ("dry", "dryer 1", None, [{"form": "dried flake", "mass": "4.4 kg"}], {}),
        (
            "extrude",
            "extruder 1",
            None,
            [{"form": "filament", "mass": "1 kg", "spool": {}} for _ in range(3)],
            {"heel": {"mass": "300 g"}},
        ),
    ]
    lot = clean
    for stage, machine, _, outputs, more in steps:
        body = {"stage": stage, "machine": machine, "started_at": NOON, "ended_at": NOON}
        body |= {"inputs": [{"lot": lot, "all": True}], "outputs": outputs, **more}
        run = api.post("/runs/", body)
        lot = run["lots"][0]["code"]
    spools = api.read(f"/collections/{shop.collection}/spools/")["rows"]
    assert len(spools) == 3
    assert all(spool["part_mg"] == spool["mass_mg"] == KG for spool in spools)
    origins = api.read(f"/lots/{spools[0]['lot']}/origins/")
    assert origins["origins"][0]["code"] == shop.collection
    back = api.read(f"/lots/{spools[0]['lot']}/ancestors/")
    assert {run["stage"] for run in back["runs"]} == {"receive", "sort", "shred", "dry", "extrude"}
    forth = api.read(f"/lots/{shop.bottles}/descendants/")
    assert {spool["lot"] for spool in spools} <= {one["code"] for one in forth["lots"]}
