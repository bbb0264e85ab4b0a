"""Files of energy by request: looked through, named row by row, taken once, and only one's own."""

from __future__ import annotations

import pytest

from tests.api.conftest import CANARY, Shop, codes_of, open_shop
from tests.api.test_energy import drying

ROWS = "".join(f"2024-05-08T0{8 + minute // 60}:{minute % 60:02}:00Z;600\n" for minute in range(90))


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path / "energy"


@pytest.fixture
def shop(db) -> Shop:
    """Made for each test: the job that looks a file through has a connection of its own."""
    return open_shop()


@pytest.fixture
def other_shop(db) -> Shop:
    return open_shop(CANARY)


def machine_of(api) -> int:
    return next(one["id"] for one in api.read("/machines/")["rows"] if one["name"] == "oven")


def sent(api, text: str, status: int = 202, **more: object) -> dict:
    body = {"machine": machine_of(api), "name": "plug.csv", "zone": "UTC", "text": text, **more}
    return api.post("/energy/files/", body, status=status)


@pytest.mark.django_db(transaction=True)
def test_a_file_is_seen_then_taken_and_counts_once(shop, api):
    """90 samples of 600 W a minute apart cover 89 min: 0.6 kW · 89/60 h = 0.89 kWh."""
    drying(shop)
    row = sent(api, f"time;power_w\n{ROWS}")
    seen = api.read(f"/energy/files/{row['file']}/")
    assert (seen["state"], seen["preview"]["can_be_written"]) == ("looked", True)
    assert seen["preview"]["rows"] == 90
    api.post(f"/energy/files/{row['file']}/take/", {}, status=202)
    taken = api.read(f"/energy/files/{row['file']}/")
    assert (taken["state"], taken["kwh"]) == ("taken", pytest.approx(0.89))
    again = sent(api, f"time;power_w\n{ROWS}")
    assert (again["file"], again["state"]) == (row["file"], "taken")
    twice = api.post(f"/energy/files/{row['file']}/take/", {}, status=202)
    assert twice["kwh"] == pytest.approx(0.89)
    assert [one["file"] for one in api.read("/energy/files/")["rows"]] == [row["file"]]


@pytest.mark.django_db(transaction=True)
def test_every_bad_row_is_named_by_its_line_and_it_cannot_be_taken(shop, api):
    drying(shop)
    late = "soon;6\n2024-05-08T11:02:00Z;warm\n"
    row = sent(api, f"time;power_w\n{ROWS}{late}")
    seen = api.read(f"/energy/files/{row['file']}/")
    assert sorted(one["line"] for one in seen["preview"]["problems"]) == [92, 93]
    assert seen["preview"]["can_be_written"] is False
    refused = api.post(f"/energy/files/{row['file']}/take/", {}, status=422)
    assert codes_of(refused) == [("file-not-ready", "")]
    dropped = api.post(f"/energy/files/{row['file']}/drop/", {}, status=200)
    assert dropped == {"machine": machine_of(api)}
    api.get(f"/energy/files/{row['file']}/", status=404)


@pytest.mark.django_db(transaction=True)
def test_an_empty_file_and_a_zone_that_is_none_are_refused(shop, api):
    drying(shop)
    assert codes_of(sent(api, "", status=422)) == [("file-empty", "/file")]
    assert codes_of(sent(api, "a", status=422, zone="Moon/Base")) == [("zone-unknown", "/zone")]


@pytest.mark.django_db(transaction=True)
def test_another_workshops_file_is_not_found(shop, api, other_shop):
    drying(shop)
    theirs = other_shop.api
    row = sent(api, f"time;power_w\n{ROWS}")
    theirs.get(f"/energy/files/{row['file']}/", status=404)
    theirs.post(f"/energy/files/{row['file']}/take/", {}, status=404)
    assert theirs.read("/energy/files/")["rows"] == []


def test_the_class_of_a_meter_is_kept_with_its_source(shop, api):
    drying(shop)
    address = f"/machines/{machine_of(api)}/meter/"
    wrong = api.post(address, {"source": "its plate"}, status=422)
    assert codes_of(wrong) == [("value-missing", "/class_percent")]
    api.post(address, {"class_percent": 1, "step_kwh": 0.1, "source": "its plate"})
    shown = api.read(f"/machines/{machine_of(api)}/")["meter"]
    assert (shown["class_percent"], shown["step_kwh"], shown["source"]) == (1, 0.1, "its plate")
