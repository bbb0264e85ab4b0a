"""Lots through the API: lists, one whole, holds, events, verdicts."""

from __future__ import annotations

from tests.api.conftest import NOON, codes_of, sorting
from tests.factories import KG, G


def codes(api, query: str) -> set[str]:
    return {row["code"] for row in api.read(f"/lots/?{query}")["rows"]}


def test_lots_page_filters(shop, api):
    run = api.post("/runs/", sorting(shop))
    clean, caps = (lot["code"] for lot in run["lots"])
    assert codes(api, "form=clean+bottles") == {clean}
    assert codes(api, "polymer=HDPE") == {caps, shop.caps}
    assert codes(api, "stage=sort") == {clean, caps}
    assert codes(api, f"origin={shop.collection}") == {clean, caps, shop.bottles, shop.caps}
    assert codes(api, "spools=true") == set()
    assert codes(api, f"text={clean.lower()}") == {clean}
    api.post("/runs/", sorting(shop))
    assert codes(api, "state=used+up") == {shop.bottles}
    api.post(f"/lots/{clean}/holds/", {"reason": "wet"})
    assert codes(api, "state=held") == {clean}
    assert clean in codes(api, "state=on+hand")


def test_a_lot_by_a_code_typed_by_hand(shop, api):
    typed = shop.bottles.lower().replace("-", " ")
    assert api.read(f"/lots/{typed.replace(' ', '%20')}/")["code"] == shop.bottles


def test_lot_page_holds_all_there_is(shop, api):
    run = api.post("/runs/", sorting(shop))
    lot = api.read(f"/lots/{shop.bottles}/")
    assert (lot["mass_mg"], lot["made_mg"], lot["origin"]) == (5 * KG, 10 * KG, shop.collection)
    assert [use["run"] for use in lot["uses"]] == [run["code"]]
    assert [posting["mass_mg"] for posting in lot["postings"]] == [10 * KG, -5 * KG]
    assert lot["how"] == "weighed" and not lot["stale"]


def test_origins_add_up_exactly(shop, api):
    lot = api.post("/runs/", sorting(shop))["lots"][0]["code"]
    shown = api.read(f"/lots/{lot}/origins/")
    parts = sum(part["mass_mg"] for part in shown["origins"])
    assert parts + shown["traces_mg"] == shown["mass_mg"] == 4_600 * G
    assert shown["model"] == "well mixed" and shown["chain_of_custody"]


def test_holds_and_releases(shop, api):
    path = f"/lots/{shop.bottles}/holds/"
    placed = api.post(path, {"reason": "smells"})
    assert placed == {"holds": placed["holds"], "target": shop.bottles, "with_descendants": False}
    assert api.read(f"/lots/{shop.bottles}/")["holds"][0]["reason"] == "smells"
    assert codes_of(api.post(path, {"reason": ""}, status=422)) == [("reason-missing", "/reason")]
    release = f"/holds/{placed['holds'][0]}/release/"
    shop.programs["operator"].post(release, {"reason": "fine"}, status=403)
    api.post(release, {"reason": "fine"}, status=200)
    assert codes_of(api.post(release, {"reason": "fine"}, status=409)) == [("hold-released", "")]
    assert api.read("/holds/")["rows"] == []
    assert api.read("/holds/?active=false")["rows"][0]["release_reason"] == "fine"


def test_lot_event(shop, api):
    path = f"/lots/{shop.dried}/events/"
    api.post(path, {"kind": "moved", "happened_at": NOON, "place": "dry cabinet"})
    (event,) = api.read(f"/lots/{shop.dried}/")["events"]
    assert (event["kind"], event["place"]) == ("moved", "dry cabinet")
    wrong = api.post(path, {"kind": "lost", "happened_at": NOON}, status=422)
    assert codes_of(wrong) == [("kind-unknown", "/kind")]
    nowhere = api.post(path, {"kind": "moved", "happened_at": NOON}, status=422)
    assert codes_of(nowhere) == [("place-missing", "/place")]


def test_verdict_give(shop, api):
    body = {
        "stage": "extrude",
        "machine": "extruder 1",
        "started_at": NOON,
        "ended_at": NOON,
        "inputs": [{"lot": shop.dried, "mass": "2 kg"}],
        "outputs": [{"form": "filament", "mass": "1 kg", "spool": {"length_m": 330}}],
        "heel": {"mass": "300 g"},
    }
    spool = api.post("/runs/", body)["lots"][0]["code"]
    viewer = shop.programs["viewer"]
    viewer.post(f"/lots/{spool}/verdicts/", {"good": False, "defects": ["clogged nozzle"]})
    api.post(f"/lots/{spool}/verdicts/", {"good": True, "note": "fine for me"})
    goods = [one["good"] for one in api.read(f"/lots/{spool}/")["verdicts"]]
    assert sorted(goods) == [False, True]
    wrong = api.post(f"/lots/{spool}/verdicts/", {"good": False, "defects": ["ugly"]}, status=422)
    assert codes_of(wrong) == [("defect-unknown", "/defects")]
    odd = api.post(f"/lots/{shop.caps}/verdicts/", {"good": "yes"}, status=422)
    assert codes_of(odd) == [("yes-no-wanted", "/good")]
    other = api.post(f"/lots/{shop.caps}/verdicts/", {"good": True}, status=422)
    assert codes_of(other)[0][0] == "form-wrong"


def test_a_lot_is_guarded_by_its_etag(shop, api):
    tag = api.get(f"/lots/{shop.bottles}/")["ETag"]
    api.post("/runs/", sorting(shop))
    path = f"/lots/{shop.bottles}/holds/"
    stale = api.post(path, {"reason": "x"}, status=412, If_Match=tag)
    assert codes_of(stale) == [("changed-meanwhile", "")]
    api.post(path, {"reason": "x"}, If_Match="*")
