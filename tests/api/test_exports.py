"""Exports through the API: the same files as on the page, by key, and what makes no sense."""

from __future__ import annotations

import json

import pytest
from prov.model import ProvDocument

from api import exchange as exports
from recycling.models import ToldEnergy
from recycling.queries.exchange.exports import exported
from recycling.queries.lots.traces import trace
from recycling.records.exchange.exports import ExportWanted
from recycling.tables.exchange.epcis import epcis_events
from tests.api.conftest import MORNING, program, sorting
from tests.energy.conftest import Shop as Energies
from tests.factories import MachineFactory, WorkshopFactory
from tests.queries.exported import problems

pytestmark = pytest.mark.django_db


@pytest.fixture
def sorted_lot(shop, api):
    return api.post("/runs/", sorting(shop))["outputs"][0]["lot"]


def test_a_period_is_a_valid_epcis_document_in_linked_data(shop, api, sorted_lot):
    answer = api.get("/exports/epcis/?from=2024-01-01&to=2030-01-01")
    assert answer["Content-Type"] == "application/ld+json"
    found = json.loads(answer.content)
    assert not problems(found)
    told = [one["eventID"] for one in found["epcisBody"]["eventList"]]
    here = epcis_events(exported(shop.lead, ExportWanted()))
    assert told == [one["eventID"] for one in here] and len(told) >= 3
    plain = api.get("/exports/epcis/", Accept="application/json")
    assert plain["Content-Type"] == "application/json"


def test_energies_are_told_once_and_reading_the_file_tells_nothing(shop, api):
    MachineFactory(actor=shop.lead, name="Oven", kind="dryer")
    here = Energies(shop.lead)
    here.reading("Oven", 0, 100)
    here.reading("Oven", 2, 103)
    _, lot = here.dry(here.bag(), 0, 2)
    events = json.loads(api.get(f"/exports/epcis/?lot={lot}").content)["epcisBody"]["eventList"]
    assert "book:told" in str(events) and not ToldEnergy.objects.exists()
    assert api.post("/exports/epcis/", {"lot": lot})["figures"] == 1
    assert api.post("/exports/epcis/", {"from": MORNING})["figures"] == 0
    answer = api.get(f"/exports/epcis/?lot={lot}")
    assert "book:told" not in answer.content.decode()
    assert ToldEnergy.objects.get().kwh == 3.0


def test_a_large_file_comes_piece_by_piece_and_is_the_same(api, sorted_lot, monkeypatch):
    whole = json.loads(api.get("/exports/prov/").content)
    monkeypatch.setattr(exports, "LARGE", 0)
    answer = api.client.get("/api/v1/exports/prov/", headers=api.headers)
    assert answer.streaming
    assert json.loads(b"".join(answer.streaming_content)) == whole


def test_a_lot_has_the_lineage_of_its_trace(shop, api, sorted_lot):
    found = api.read(f"/exports/prov/?lot={sorted_lot}")
    read = ProvDocument.deserialize(content=json.dumps(found), format="json")
    assert len(list(read.get_records())) > 3
    back = trace(shop.lead, sorted_lot, "ancestors")
    assert len(found["used"]) + len(found["wasGeneratedBy"]) == len(back.edges)


@pytest.mark.parametrize("kind", ["epcis", "prov"])
def test_what_makes_no_sense_is_refused(api, sorted_lot, kind):
    for query, status, code in (
        (f"?lot={sorted_lot}&from=2024-01-01", 422, "export-unclear"),
        ("?forward=true", 422, "export-unclear"),
        ("?from=2024-02-01&to=2024-01-01", 422, "end-before-start"),
        ("?lot=L999-0", 404, "lot-unknown"),
        ("?from=soon", 400, "time-unreadable"),
        ("?lots=all", 400, "parameter-unknown"),
    ):
        answer = api.get(f"/exports/{kind}/{query}", status)
        assert json.loads(answer.content)["errors"][0]["code"] == code


@pytest.mark.parametrize("kind", ["epcis", "prov"])
def test_another_workshops_lot_is_not_there(sorted_lot, kind):
    stranger = program(WorkshopFactory(), "", "read")
    stranger.get(f"/exports/{kind}/?lot={sorted_lot}", 404)
    assert sorted_lot not in stranger.get(f"/exports/{kind}/").content.decode()
