"""Figures that are likely slips: in the answer, in `confirmed`, and waiting until answered."""

from __future__ import annotations

import pytest

from tests.factories import KG, G


def bought(api, mass, **own):
    body = {
        "supplier": "mill",
        "purchased_at": "2024-05-02T08:00:00Z",
        "bags": [{"form": "fines", "mass": mass, "polymer": "PET"}],
    }
    return api.post("/purchases/", body | own)


@pytest.fixture
def usual(shop, api):
    for grams in (1100, 1200, 1300, 1150, 1240, 1400, 1320, 1200):
        assert bought(api, f"{grams} g")["doubts"] == []


def test_a_slip_is_taken_said_at_its_field_and_waits(usual, api):
    (doubt,) = bought(api, "12.4 kg")["doubts"]
    assert doubt["field"] == "/bags/0/mass"
    assert doubt["suggestions"][0] == {"value": "1.24 kg"}
    assert "12.400 kg is far from that" in doubt["said"]
    assert bought(api, "12.4 kg", confirmed=[doubt["key"]])["doubts"] == []
    (waiting,) = api.read("/doubts/")["rows"]
    assert waiting["said"] == doubt["said"] and waiting["suggestions"] == doubt["suggestions"]
    body = {"mass_mg": 1240 * G, "reason": "a slip"}
    api.post(f"/postings/{waiting['posting']}/corrections/", body)
    assert api.read("/doubts/")["rows"] == []


def test_it_is_right_is_remembered_and_another_workshop_cannot_say_so(usual, api):
    bought(api, "12.4 kg")
    (waiting,) = api.read("/doubts/")["rows"]
    answered = api.post(f"/doubts/{waiting['number']}/right/", {}, status=200)
    assert answered["answered_at"] and answered["number"] == waiting["number"]
    assert api.read("/doubts/")["rows"] == []
    missing = api.post(f"/doubts/{waiting['number'] + 10**6}/right/", {}, status=404)
    assert missing["errors"][0]["code"] == "doubt-unknown"


def test_a_run_says_what_is_too_much_for_what_went_in(shop, api):
    run = {
        "stage": "sort",
        "started_at": "2024-06-01T08:00:00Z",
        "ended_at": "2024-06-01T09:00:00Z",
        "inputs": [{"lot": shop.bottles, "mass_mg": KG}],
        "outputs": [{"form": "clean bottles", "mass": "9.1 kg"}],
    }
    (doubt,) = [one for one in api.post("/runs/", run)["doubts"] if one["field"]]
    assert (doubt["field"], doubt["suggestions"][0]["value"]) == ("/outputs/0/mass", "910 g")
