"""Workshops do not meet: another's codes do not exist, and no answer holds a byte of it."""

from __future__ import annotations

import pytest

from api import urls
from api.protocol import requests as doors
from tests.api.conftest import BASE, CANARY, MORNING, NOON, codes_of, sorting
from tests.factories import KG


@pytest.fixture(scope="module")
def made_theirs(made_other_shop):
    api = made_other_shop.api
    run = api.post("/runs/", sorting(made_other_shop, note=CANARY))
    going = api.post(
        "/runs/",
        {
            "stage": "dry",
            "state": "open",
            "machine": f"dryer 1{CANARY}",
            "started_at": MORNING,
            "inputs": [{"lot": made_other_shop.flake, "mass": "1 kg"}],
            "note": CANARY,
        },
    )
    bags = [{"polymer": "PET", "mass": "1 kg", "note": CANARY}]
    later = api.post(
        "/collections/",
        {"source": f"Hillside School{CANARY}", "collected_at": NOON, "bags": bags},
    )
    hold = api.post(f"/lots/{made_other_shop.caps}/holds/", {"reason": CANARY})["holds"][0]
    key = api.post("/keys/", {"label": CANARY})["key"]
    moved = {"kind": "moved", "happened_at": NOON, "place": CANARY, "note": CANARY}
    api.post(f"/lots/{made_other_shop.caps}/events/", moved)
    return {
        "lot": run["lots"][0]["code"],
        "run": run["code"],
        "open": going["code"],
        "origin": later["code"],
        "posting": run["postings"][0]["posting"],
        "hold": hold,
        "key": key,
    }


@pytest.fixture
def theirs(made_theirs, db):
    """Things of the other workshop, with the canary in every text, and their codes and ids."""
    return dict(made_theirs)


@pytest.fixture
def ours(shop, theirs):
    """Our own workshop, whose lots number fewer than theirs, so that their codes are not ours."""
    return shop


READINGS = [
    "/lots/{lot}/",
    "/lots/{lot}/origins/",
    "/lots/{lot}/ancestors/",
    "/lots/{lot}/descendants/",
    "/runs/{run}/",
    "/collections/{origin}/",
    "/collections/{origin}/spools/",
]


@pytest.mark.parametrize("path", READINGS)
def test_reading_another_workshops_things_is_404(ours, theirs, path):
    ours.api.get(path.format(**theirs), status=404)


DEEDS = [
    ("/collections/{origin}/holds/", {"reason": "x"}),
    ("/lots/{lot}/holds/", {"reason": "x"}),
    ("/lots/{lot}/events/", {"kind": "sealed", "happened_at": NOON}),
    ("/lots/{lot}/verdicts/", {"good": True}),
    ("/runs/{open}/draws/", {"lot": "L1-X", "mass_mg": 1}),
    ("/runs/{open}/outputs/", {"form": "dried flake", "mass_mg": 1}),
    ("/runs/{open}/losses/", {"account": "water", "mass_mg": 1}),
    ("/runs/{open}/settings/", {"key": "set_c", "value": 90}),
    ("/runs/{open}/checks/", {"key": "kept", "value": "open"}),
    ("/runs/{open}/close/", {}),
    ("/runs/{run}/void/", {"reason": "x"}),
    ("/postings/{posting}/corrections/", {"mass_mg": 1, "reason": "x"}),
    ("/holds/{hold}/release/", {"reason": "x"}),
    ("/keys/{key}/revoke/", {}),
]


@pytest.mark.parametrize("path, body", DEEDS)
def test_writing_to_another_workshops_things_is_404(ours, theirs, other_shop, path, body):
    before = other_shop.api.read("/balance/now/")
    ours.api.post(path.format(**theirs), body, status=404)
    assert other_shop.api.read("/balance/now/") == before


@pytest.mark.parametrize(
    "changed, place",
    [
        ({"inputs": [{"lot": "{lot}", "mass_mg": 1}]}, "/inputs/0/lot"),
        ({"machine": f"dryer 1{CANARY}"}, "/machine"),
        ({"operators": [f"operator{CANARY}"]}, "/operators/0"),
        ({"feeds": [{"at": MORNING, "lot": "{lot}", "mass_mg": 1}]}, "/feeds/0/lot"),
    ],
)
def test_naming_another_workshops_things_in_an_entry(ours, theirs, changed, place):
    text = {
        key: [
            {k: v.format(**theirs) if k == "lot" else v for k, v in one.items()}
            if isinstance(one, dict)
            else one
            for one in value
        ]
        if isinstance(value, list)
        else value
        for key, value in changed.items()
    }
    problem = ours.api.post("/runs/", sorting(ours, **text), status=422)
    assert place in [pointer for _, pointer in codes_of(problem)]


def test_naming_another_workshops_source_and_programme(ours, other_shop):
    bags = [{"polymer": "PET", "mass_mg": KG}]
    body = {
        "source": f"Hillside School{CANARY}",
        "programme": f"Spring drive{CANARY}",
        "collected_at": NOON,
        "bags": bags,
    }
    problem = ours.api.post("/collections/", body, status=422)
    assert codes_of(problem) == [("source-unknown", "/source"), ("programme-unknown", "/programme")]
    ids = {row["id"] for row in other_shop.api.read("/sources/")["rows"]}
    problem = ours.api.post("/collections/", {**body, "source": ids.pop()}, status=422)
    assert codes_of(problem)[0] == ("source-unknown", "/source")


def test_no_answer_holds_a_byte_of_another_workshop(ours, theirs):
    seen = 0
    codes = {"lots": ours.bottles, "collections": ours.collection, "runs": "R2-X"}
    for pattern in urls.urlpatterns:
        path, door = str(pattern.pattern), pattern.callback.cls
        if not issubclass(door, doors.Door) or "GET" not in door.needs:
            continue
        address = "/" + path.replace("<str:code>", codes.get(path.partition("/")[0], ""))
        for accept in ("application/json", "text/csv"):
            response = ours.api.send("GET", address, Accept=accept)
            assert CANARY.encode() not in response.content, address
            seen += 1
    assert seen > 50


def test_searching_finds_nothing_of_another_workshop(ours, theirs):
    for path in ("lots", "runs", "collections"):
        assert ours.api.read(f"/{path}/?text={CANARY}")["rows"] == []
    origin = theirs["origin"]
    assert ours.api.read(f"/lots/?origin={origin}")["rows"] == []


def test_refusals_tell_nothing_of_another_workshop(ours, theirs):
    for path, body in DEEDS:
        response = ours.api.client.generic(
            "POST", BASE + path.format(**theirs), b"{}", headers=ours.api.headers
        )
        assert CANARY.encode() not in response.content
        assert body is not None
