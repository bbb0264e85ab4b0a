"""A machine's log, prices and factors by request: what is kept, refused, and taken back."""

from __future__ import annotations

import pytest

from tests.api.conftest import MORNING, NOON, codes_of
from tests.factories import START

LATER = START.replace(hour=13).isoformat()
SPAN = {"started_at": MORNING, "ended_at": NOON}
HEATER = {"name": "heater band", "kind": "heater", "rated_w": 850, "source": "its plate"}


@pytest.fixture
def machine(shop) -> int:
    rows = shop.api.read("/machines/")["rows"]
    return next(row["id"] for row in rows if row["name"] == "extruder 1")


@pytest.fixture
def part(api, machine) -> int:
    return api.post(f"/machines/{machine}/parts/", HEATER)["parts"][0]["part"]


def test_a_part_is_added_and_its_times_are_logged_once(api, machine, part):
    page = api.post(f"/energy/parts/{part}/times/", SPAN)
    assert (page["parts"][0]["rated_w"], page["parts"][0]["duty"]) == (850, 1)
    assert [(one["what"], one["ended_at"]) for one in page["times"]] == [
        ("heater band", NOON.replace("+00:00", "Z"))
    ]
    twice = api.post(f"/energy/parts/{part}/times/", SPAN, status=422)
    assert codes_of(twice) == [("times-overlap", "/started_at")]
    back = {"started_at": NOON, "ended_at": MORNING}
    assert codes_of(api.post(f"/energy/parts/{part}/times/", back, status=422)) == [
        ("end-before-start", "/ended_at")
    ]
    assert api.read(f"/machines/{machine}/") == page
    taken = api.post(f"/machines/{machine}/parts/", HEATER, status=422)
    assert codes_of(taken) == [("name-taken", "/name")]


def test_a_part_goes_on_and_off(api, part):
    on = api.post(f"/energy/parts/{part}/now/", {"on": True}, status=200)
    assert on["parts"][0]["on_since"] and on["times"][0]["ended_at"] is None
    again = api.post(f"/energy/parts/{part}/now/", {"on": True}, status=200)
    assert again["times"] == on["times"]
    off = api.post(f"/energy/parts/{part}/now/", {"on": False}, status=200)
    assert off["parts"][0]["on_since"] is None


def test_phases_are_logged_or_begun(api, machine):
    address = f"/machines/{machine}/phases/"
    page = api.post(address, {"kind": "warm-up", **SPAN})
    assert [one["what"] for one in page["phases"]] == ["warm-up"]
    assert codes_of(api.post(address, {"kind": "rest", **SPAN}, status=422)) == [
        ("kind-unknown", "/kind")
    ]
    assert api.post(f"{address}now/", {"kind": "standby"}, status=200)["phase"]["what"] == "standby"
    assert api.post(f"{address}now/", {"kind": "purge"}, status=200)["phase"]["what"] == "purge"
    assert api.post(f"{address}now/", {"kind": ""}, status=200)["phase"] is None


def test_why_a_counter_fell_is_asked_and_kept(api, machine):
    address = f"/machines/{machine}/readings/"
    api.post(address, {"reading_kwh": 100, "read_at": MORNING})
    odd = {"reading_kwh": 3, "read_at": NOON, "fell_because": "luck"}
    assert codes_of(api.post(address, odd, status=422)) == [("reason-unknown", "/fell_because")]
    rose = {"reading_kwh": 103, "read_at": NOON, "fell_because": "ran over"}
    assert codes_of(api.post(address, rose, status=422)) == [("counter-rose", "/fell_because")]
    page = api.post(address, {"reading_kwh": 3, "read_at": NOON})
    (doubt,) = page["doubts"]
    assert (doubt["field"], [one["value"] for one in doubt["suggestions"]]) == (
        "/fell_because",
        ["replaced", "set to zero", "ran over"],
    )
    (waiting,) = api.read("/doubts/")["rows"]
    assert waiting["said"] == doubt["said"]
    first, _ = page["readings"]
    assert (first["since_kwh"], first["is_reset"], first["fell_because"]) == (3, True, "")
    page = api.post(address, {"reading_kwh": 4.5, "read_at": LATER})
    assert page["readings"][0]["since_kwh"] == 1.5 and page["doubts"] == []
    early = {"reading_kwh": 5, "read_at": START.replace(hour=12, minute=30).isoformat()}
    assert codes_of(api.post(address, early, status=422)) == [("counter-fell", "/reading_kwh")]
    back = {"kind": "reading", "reason": "another meter"}
    api.post(f"/energy/logged/{first['id']}/take-back/", back, status=422)


def test_a_dial_that_ran_over_counts_across_its_zero(api, machine):
    """A dial of five digits: from 99 998 over 0 to 3 are 5 kWh, as by hand."""
    address = f"/machines/{machine}/readings/"
    api.post(address, {"reading_kwh": 99_998, "read_at": MORNING})
    page = api.post(address, {"reading_kwh": 3, "read_at": NOON, "fell_because": "ran over"})
    assert page["doubts"] == []
    assert [one["since_kwh"] for one in page["readings"]] == [5, None]
    late = {"reading_kwh": 99_999, "read_at": START.replace(hour=9).isoformat()}
    page = api.post(address, late)
    assert [one["since_kwh"] for one in page["readings"]] == [4, 1, None]


def test_a_reading_is_taken_back_with_a_reason(api, machine):
    page = api.post(f"/machines/{machine}/readings/", {"reading_kwh": 100, "read_at": MORNING})
    address = f"/energy/logged/{page['readings'][0]['id']}/take-back/"
    silent = api.post(address, {"kind": "reading", "reason": ""}, status=422)
    assert [place for _, place in codes_of(silent)] == ["/reason"]
    back = api.post(address, {"kind": "reading", "reason": "the other meter"}, status=200)
    assert back["readings"] == []
    again = api.post(address, {"kind": "reading", "reason": "the other meter"}, status=404)
    assert codes_of(again) == [("logged-unknown", "")]


def test_only_a_lead_adds_parts_and_others_see_nothing_of_them(shop, other_shop, machine, part):
    shop.programs["operator"].post(f"/machines/{machine}/parts/", HEATER, status=403)
    shop.programs["operator"].post(f"/energy/parts/{part}/times/", SPAN)
    logged = shop.api.read(f"/machines/{machine}/")["times"][0]["id"]
    theirs = other_shop.api
    theirs.get(f"/machines/{machine}/", status=404)
    theirs.post(f"/machines/{machine}/parts/", HEATER, status=404)
    theirs.post(f"/machines/{machine}/readings/", {"reading_kwh": 1}, status=404)
    theirs.post(f"/machines/{machine}/phases/", {"kind": "purge", **SPAN}, status=404)
    theirs.post(f"/energy/parts/{part}/now/", {"on": True}, status=404)
    body = {"kind": "time", "reason": "x"}
    theirs.post(f"/energy/logged/{logged}/take-back/", body, status=404)
    assert len(shop.api.read(f"/machines/{machine}/")["times"]) == 1


def test_prices_and_factors_are_kept_with_their_source(api):
    days = {"read_date": "2024-04-30", "valid_from": "2024-05-01"}
    price = {"price_per_kwh": 0.31, "currency": "eur", "source": "contract", **days}
    kept = api.post("/energy/tariffs/", price)
    assert (kept["currency"], kept["price_per_kwh"]) == ("EUR", 0.31)
    assert api.read("/energy/tariffs/")["rows"] == [kept]
    wrong = api.post("/energy/tariffs/", {**price, "currency": "euros", "source": ""}, status=422)
    assert codes_of(wrong) == [("currency-unknown", "/currency"), ("text-missing", "/source")]
    factor = {
        "value": 212.5,
        "unit": "g/kWh",
        "scope": "generation",
        "region": "here",
        "year": 2023,
        "publisher": "the supplier",
        **days,
    }
    kept = api.post("/energy/factors/", factor)
    assert kept == {"id": kept["id"], **factor}
    assert api.read("/energy/factors/")["rows"] == [kept]
    wrong = api.post("/energy/factors/", {**factor, "unit": "kg"}, status=422)
    assert codes_of(wrong) == [("unit-unknown", "/unit")]
