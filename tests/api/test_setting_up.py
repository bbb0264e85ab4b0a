"""What entries refer to, and keys, through the API."""

from __future__ import annotations

import json

import pytest

from recycling.models import Answer
from tests.api.conftest import Program, codes_of

THINGS = [
    ("sources", {"name": "Corner shop", "kind": "shop", "may_be_named": True}),
    (
        "programmes",
        {
            "name": "Autumn",
            "funder": "council",
            "starts_date": "2024-09-01",
            "ends_date": "2024-11-30",
            "target": "200 kg",
        },
    ),
    ("machines", {"name": "dryer 9", "kind": "dryer", "note": "blue"}),
    ("scales", {"name": "bench", "interval": "1 g", "capacity_mg": 6_000_000}),
    ("containers", {"name": "crate", "tare": "1.2 kg"}),
    (
        "polymers",
        {
            "code": "rPET",
            "name": "recycled PET",
            "resin_code": 1,
            "density_g_cm3": 1.38,
            "density_source": "data sheet",
        },
    ),
]


@pytest.mark.parametrize("path, body", THINGS)
def test_what_is_added_is_listed_as_it_was_answered(api, path, body):
    made = api.post(f"/{path}/", body)
    assert made in api.read(f"/{path}/")["rows"]
    taken = api.post(f"/{path}/", body, status=422)
    assert codes_of(taken)[0][0] == "name-taken"
    assert codes_of(api.post(f"/{path}/", {}, status=422))[0][0] == "field-missing"


@pytest.mark.parametrize(
    "path, body, place",
    [
        ("sources", {"name": "A", "kind": "planet"}, "/kind"),
        ("sources", {"name": " "}, "/name"),
        ("programmes", {"name": "A", "starts_date": "2024-13-01"}, "/starts_date"),
        ("programmes", {"name": "A", "target": "0 kg"}, "/target"),
        ("programmes", {"name": "A", "target_mg": -1}, "/target_mg"),
        ("machines", {"name": "A", "kind": "rocket"}, "/kind"),
        ("scales", {"name": "A", "interval_mg": 0, "capacity_mg": 5}, "/interval_mg"),
        ("scales", {"name": "A", "interval": "5 g", "capacity": "1 g"}, "/capacity"),
        ("containers", {"name": "A", "tare_mg": 2**62}, "/tare_mg"),
        ("polymers", {"code": "A", "resin_code": 8}, "/resin_code"),
        ("polymers", {"code": "A", "density_g_cm3": "1.4"}, "/density_g_cm3"),
        ("polymers", {"code": "A", "density_g_cm3": 1e300}, "/density_g_cm3"),
        ("polymers", {"code": "x" * 21}, "/code"),
    ],
)
def test_what_cannot_be_added(api, path, body, place):
    before = api.read(f"/{path}/")
    assert codes_of(api.post(f"/{path}/", body, status=422))[0][1] == place
    assert api.read(f"/{path}/") == before


def test_members_by_name(shop, api):
    listed = [(row["name"], row["role"]) for row in api.read("/members/")["rows"]]
    assert listed == [("Ada", "lead"), ("operator", "operator"), ("viewer", "viewer")]


def test_a_secret_is_shown_once_and_kept_nowhere(shop, api):
    body = {"label": "bench scale", "scope": "record", "days": 30}
    first = api.post("/keys/", body, Idempotency_Key="k")
    again = api.post("/keys/", body, Idempotency_Key="k")
    assert first["secret"].startswith("rl_") and again == {**first, "secret": ""}
    assert Program(first["secret"]).read("/lots/")["rows"]
    kept = "".join(Answer.objects.values_list("body", flat=True))
    assert first["secret"] not in kept
    listed = {row["id"]: row for row in api.read("/keys/")["rows"]}
    assert listed[first["key"]]["prefix"] == first["secret"][:11]
    assert first["secret"] not in json.dumps(list(listed.values()))


def test_keys_that_cannot_be_given(shop, api):
    for body, place in [
        ({"label": ""}, "/label"),
        ({"label": "a", "scope": "all"}, "/scope"),
        ({"label": "a", "days": 0}, "/days"),
        ({"label": "a", "days": 3651}, "/days"),
    ]:
        assert codes_of(api.post("/keys/", body, status=422))[0][1] == place
    api.post("/keys/", {"label": "a", "member": "Nobody"}, status=404)
    shop.programs["viewer"].post("/keys/", {"label": "a", "scope": "read"}, status=403)


def test_one_sees_and_revokes_ones_own_keys_only(shop, api):
    viewer = shop.programs["viewer"]
    issued = api.post("/keys/", {"label": "lead's"})["key"]
    assert {row["member"] for row in viewer.read("/keys/")["rows"]} == {"viewer"}
    viewer.post(f"/keys/{issued}/revoke/", {}, status=403)
    assert codes_of(api.post(f"/keys/{issued}/revoke/", {"a": 1}, status=422)) == [
        ("field-unknown", "/a")
    ]
    api.post(f"/keys/{issued}/revoke/", {}, status=200)
    api.post(f"/keys/{issued}/revoke/", {}, status=404)
