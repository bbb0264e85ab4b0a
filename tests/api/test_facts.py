"""Facts by program: PATCH with a reason, guarded by If-Match; the answer carries its tag."""

from __future__ import annotations

from tests.api.conftest import Shop, codes_of, sorting


def test_a_collection_is_put_right_under_its_tag(shop: Shop):
    path = f"/collections/{shop.collection}/"
    tag = shop.api.get(path)["ETag"]
    body = {"reason": "swapped", "note": "left at the gate", "programme": "Spring drive"}
    answer = shop.api.send("PATCH", path, body, **{"If-Match": tag})
    assert answer.status_code == 200, answer.content
    assert answer.json()["programme"] == "Spring drive"
    assert [one["fact"] for one in answer.json()["changes"]] == ["note", "programme"]
    assert answer["ETag"] == shop.api.get(path)["ETag"] != tag
    stale = shop.api.send("PATCH", path, {**body, "note": "no"}, **{"If-Match": tag})
    assert stale.status_code == 412 and codes_of(stale.json()) == [("changed-meanwhile", "")]


def test_a_lot_and_a_run_are_put_right_by_program(shop: Shop):
    lot = shop.api.send("PATCH", f"/lots/{shop.bottles}/", {"reason": "look", "colour": "green"})
    assert lot.status_code == 200 and lot.json()["colour"] == "green"
    assert lot["ETag"] == shop.api.get(f"/lots/{shop.bottles}/")["ETag"]
    run = shop.api.post("/runs/", sorting(shop))
    path = f"/runs/{run['code']}/"
    body = {"reason": "who it was", "operators": ["operator"], "note": "second table"}
    done = shop.api.send("PATCH", path, body)
    assert done.status_code == 200, done.content
    assert done.json()["operators"] == ["operator"]
    assert done["ETag"] == shop.api.get(path)["ETag"]
    nothing = shop.api.send("PATCH", path, body)
    assert nothing.status_code == 422 and codes_of(nothing.json()) == [("nothing-changed", "")]


def test_a_change_without_reason_or_by_a_viewer_is_refused(shop: Shop):
    path = f"/lots/{shop.bottles}/"
    answer = shop.api.send("PATCH", path, {"colour": "green"})
    assert answer.status_code == 422 and codes_of(answer.json()) == [("field-missing", "/reason")]
    viewer = shop.programs["viewer"].send("PATCH", path, {"reason": "x", "colour": "green"})
    assert viewer.status_code == 403


def test_set_up_answers_with_its_tag_too(shop: Shop):
    source = shop.api.read("/sources/")["rows"][0]["id"]
    answer = shop.api.send("PATCH", f"/sources/{source}/", {"note": "gate 2"})
    assert answer["ETag"] == shop.api.get(f"/sources/{source}/")["ETag"]


def test_changed_facts_are_undone_by_whoever_changed_them(shop: Shop, settings):
    """Back to the tag of before: nothing but the history tells of it."""
    run = shop.api.post("/runs/", sorting(shop))["code"]
    for path, body in (
        (f"/collections/{shop.collection}/", {"programme": "Spring drive", "note": "gate"}),
        (f"/lots/{shop.bottles}/", {"colour": "green", "form": "clean bottles", "count": 12}),
        (f"/runs/{run}/", {"operators": ["operator"], "note": "second table"}),
    ):
        code, before = path.split("/")[2], shop.api.read(path)
        changed = shop.api.send("PATCH", path, {"reason": "swapped", **body}).json()
        assert changed["changes"][-1]["undo_until"] > changed["changes"][-1]["written_at"]
        undo = f"/changes/{code}/undo/"
        other = shop.programs["operator"].send("POST", undo, {})
        assert other.status_code in (403, 422)
        done = shop.api.post(undo, {}, 200)
        assert done["code"] == code and done["facts"]
        after = shop.api.read(path)
        assert len(after.pop("changes")) == 2 * len(changed["changes"])
        assert after == {name: value for name, value in before.items() if name != "changes"}
        assert codes_of(shop.api.post(undo, {}, 422)) == [("undo-over", "")]
    shop.api.send("PATCH", f"/lots/{shop.bottles}/", {"reason": "look", "colour": "blue"})
    settings.UNDO_MINUTES = 0
    late = shop.api.post(f"/changes/{shop.bottles}/undo/", {}, 422)
    assert "0 minutes" in late["detail"]
