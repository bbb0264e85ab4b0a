"""Refusals: each thing a client can get wrong has its answer, and writes nothing.

The shape of every refusal is RFC 9457 (problem details), pointers are RFC 6901.
"""

from __future__ import annotations

import json

import pytest
from django.db import OperationalError

from tests.api.conftest import BASE, MORNING, codes_of, sorting
from tests.factories import KG, G

FULLWIDTH = "\N{FULLWIDTH DIGIT FIVE}\N{FULLWIDTH DIGIT ZERO}"


def sequence(shop) -> int:
    return shop.api.read("/balance/now/")["sequence"]


def refused(shop, body, status: int = 422, path: str = "/runs/") -> list[tuple[str, str]]:
    """Send a bad body, see that nothing was written, and return the codes and places."""
    before = sequence(shop)
    problem = shop.api.post(path, body, status=status)
    assert sequence(shop) == before
    assert problem["status"] == status and problem["detail"]
    return codes_of(problem)


@pytest.mark.parametrize(
    "mass, code",
    [
        (-5, "mass-not-positive"),
        (0, "mass-not-positive"),
        (10**12 + 1, "mass-too-large"),
        (2**63 - 1, "mass-too-large"),
        (2**63, "number-out-of-bounds"),
        (-(2**63), "number-out-of-bounds"),
        (1.5, "whole-wanted"),
        (1.0, "whole-wanted"),
        (True, "whole-wanted"),
        ("5000", "whole-wanted"),
        ("1_000", "whole-wanted"),
        (FULLWIDTH, "whole-wanted"),
        ([5], "whole-wanted"),
        ({"kg": 5}, "whole-wanted"),
    ],
)
def test_a_mass_that_is_none(shop, mass, code):
    body = sorting(shop)
    body["outputs"][0]["mass_mg"] = mass
    assert refused(shop, body) == [(code, "/outputs/0/mass_mg")]


@pytest.mark.parametrize(
    "text, code",
    [
        ("1_000 g", "mass-unreadable"),
        (f"{FULLWIDTH} g", "mass-unreadable"),
        ("1e3 g", "mass-unreadable"),
        ("-1 kg", "mass-unreadable"),
        ("nan kg", "mass-unreadable"),
        ("", "mass-unreadable"),
        ("5", "mass-without-unit"),
        ("5 stone", "mass-unit-unknown"),
        ("1,234 g", "mass-ambiguous"),
        ("0 kg", "mass-not-positive"),
        ("9999999999 kg", "mass-too-large"),
        (5, "text-wanted"),
        (None, "text-wanted"),
    ],
)
def test_a_mass_as_text_that_is_none(shop, text, code):
    body = sorting(shop)
    del body["outputs"][0]["mass_mg"]
    body["outputs"][0]["mass"] = text
    assert refused(shop, body) == [(code, "/outputs/0/mass")]


def test_a_mass_given_twice_or_not_at_all(shop):
    body = sorting(shop)
    body["outputs"][0]["mass"] = "4.6 kg"
    assert refused(shop, body) == [("mass-twice", "/outputs/0/mass")]
    body = sorting(shop, inputs=[{"lot": shop.bottles}])
    assert refused(shop, body) == [("mass-missing", "/inputs/0/mass_mg")]
    body = sorting(shop, inputs=[{"lot": shop.bottles, "mass": "1 kg", "all": True}])
    assert refused(shop, body) == [("mass-and-all", "/inputs/0/mass")]


def test_gross_tare_and_net_must_agree(shop):
    bag = {"polymer": "PET", "gross": "1.2 kg", "tare_mg": 200 * G}
    body = {"source": "Hillside School", "collected_at": MORNING, "bags": [bag]}
    lot = shop.api.post("/collections/", body)["lots"][0]
    assert lot["mass_mg"] == KG
    wrong = {**body, "bags": [{**bag, "mass": "1.1 kg"}]}
    assert refused(shop, wrong, path="/collections/") == [("gross-net-differ", "/bags/0/gross")]
    light = {**body, "bags": [{**bag, "tare_mg": 2 * KG}]}
    assert ("mass-not-positive", "/bags/0/gross") in refused(shop, light, path="/collections/")


def test_lots_that_cannot_be_drawn(shop):
    one = {"mass_mg": G}
    body = sorting(shop, inputs=[{"lot": "L999-X", **one}], outputs=[], losses=[])
    assert ("lot-unknown", "/inputs/0/lot") in refused(shop, body)
    body["inputs"] = [{"lot": shop.bottles, **one}, {"lot": shop.bottles, **one}]
    assert refused(shop, body) == [("lot-twice", "/inputs/1/lot")]
    body["inputs"] = [{"lot": shop.bottles, "mass": "11 kg"}]
    assert refused(shop, body) == [("lot-overdrawn", "/inputs/0/mass")]
    (more,) = shop.api.post("/runs/", body, status=422)["errors"]
    assert more["suggestions"] == [{"value": "10 kg"}], "what is there is offered"
    body["inputs"] = [{"lot": shop.bottles, "mass": more["suggestions"][0]["value"]}]
    assert shop.api.post("/runs/", body)["code"]


def test_a_held_lot_and_a_used_up_lot(shop):
    hold = shop.api.post(f"/lots/{shop.bottles}/holds/", {"reason": "smells"})["holds"][0]
    body = sorting(shop)
    assert refused(shop, body) == [("lot-held", "/inputs/0/lot")]
    shop.api.post(f"/holds/{hold}/release/", {"reason": "aired"}, status=200)
    whole = sorting(shop, inputs=[{"lot": shop.bottles, "all": True}])
    shop.api.post("/runs/", whole)
    assert refused(shop, whole) == [("lot-used-up", "/inputs/0/lot")]
    assert refused(shop, body) == [("lot-overdrawn", "/inputs/0/mass_mg")]


def test_what_does_not_fit_the_stage(shop):
    other = [{"form": "clean bottles", "polymer": "PP", "mass_mg": KG}]
    assert refused(shop, sorting(shop, outputs=other))[0][0] == "polymer-wrong"
    filament = [{"form": "filament", "mass_mg": KG}]
    assert refused(shop, sorting(shop, outputs=filament)) == [("form-wrong", "/outputs/0/form")]
    dust = [{"account": "dust", "mass_mg": KG}]
    assert refused(shop, sorting(shop, losses=dust)) == [("loss-wrong", "/losses/0/account")]
    assert refused(shop, sorting(shop, machine="dryer 1"))[0] == ("machine-wrong", "/machine")
    assert refused(shop, sorting(shop, heel={"mass_mg": 5})) == [("heel-wrong", "/heel")]
    assert refused(shop, sorting(shop, operators=["Nobody"])) == [
        ("member-unknown", "/operators/0")
    ]
    checks = [{"key": "largest_mm", "value": 3}]
    assert refused(shop, sorting(shop, checks=checks)) == [("field-unknown", "/checks/0/key")]
    assert refused(shop, sorting(shop, stage="knead")) == [("stage-unknown", "/stage")]
    assert refused(shop, sorting(shop, stage="receive"))[0] == ("stage-of-its-own", "/stage")


def test_times_that_cannot_be(shop):
    assert refused(shop, sorting(shop, started_at="2024-01-08T08:00:00")) == [
        ("time-without-offset", "/started_at")
    ]
    assert refused(shop, sorting(shop, ended_at="2024-01-08T07:00:00+00:00")) == [
        ("end-before-start", "/ended_at")
    ]
    ahead = "2100-01-01T00:00:00Z"
    assert refused(shop, sorting(shop, ended_at=ahead)) == [("time-in-future", "/ended_at")]
    early = "1969-12-31T23:59:59Z"
    assert refused(shop, sorting(shop, started_at=early)) == [("time-too-early", "/started_at")]
    body = sorting(shop)
    del body["ended_at"]
    assert refused(shop, body) == [("end-missing", "/ended_at")]


@pytest.mark.parametrize(
    "text",
    [
        "2024-02-30T08:00:00Z",
        "2024-01-08T25:00:00Z",
        "2024-01-08T08:00:60Z",
        "2024-01-08",
        "08.01.2024 08:00",
        "9999-12-31T23:59:59-12:00",
        "0001-01-01T00:00:00+14:00",
        "2024-01-08T08:00:00+99:00",
        "2024-W02-1T08:00:00Z",
        "",
        1704700800,
        None,
    ],
)
def test_a_time_that_is_none(shop, text):
    ((code, pointer),) = refused(shop, sorting(shop, started_at=text))
    assert code in ("time-unreadable", "field-null") and pointer == "/started_at"


def test_an_hour_that_the_clocks_skip_is_one_moment_with_its_offset(shop, api):
    """An offset leaves nothing to guess: 02:30 of a spring change is the moment it names."""
    body = {"bags": [{"polymer": "PET", "mass": "1 kg"}], "source": "Hillside School"}
    made = api.post("/collections/", {**body, "collected_at": "2024-03-31T02:30:00+01:00"})
    shown = api.read(f"/collections/{made['code']}/")
    assert shown["happened_at"] == "2024-03-31T01:30:00Z"


def test_names_that_no_field_has(shop):
    assert refused(shop, sorting(shop, colour="red", **{"a/b~c": 1})) == [
        ("field-unknown", "/colour"),
        ("field-unknown", "/a~1b~0c"),
    ]
    body = sorting(shop)
    body["inputs"][0]["wieght"] = 1
    assert refused(shop, body) == [("field-unknown", "/inputs/0/wieght")]


def test_every_problem_is_named_at_once(shop):
    body = sorting(shop, started_at="yesterday", machine=[])
    body["outputs"][1]["mass_mg"] = "heavy"
    body["inputs"] = "all"
    del body["stage"]
    assert set(refused(shop, body)) == {
        ("field-missing", "/stage"),
        ("time-unreadable", "/started_at"),
        ("text-wanted", "/machine"),
        ("list-wanted", "/inputs"),
        ("whole-wanted", "/outputs/1/mass_mg"),
    }


@pytest.mark.parametrize("body", [[], "text", 5, None, True, [sorting]])
def test_a_body_that_is_no_object(shop, body):
    raw = json.dumps(None if body == [sorting] else body).encode()
    response = shop.api.send("POST", "/runs/", raw=raw)
    assert response.status_code == 422
    assert codes_of(json.loads(response.content))[0][0] in ("object-wanted", "field-null")


@pytest.mark.parametrize(
    "raw, code",
    [
        (b"{", "body-no-json"),
        (b'{"mass_mg": NaN}', "body-no-json"),
        (b'{"mass_mg": -Infinity}', "body-no-json"),
        (b'{"a": 1, "a": 2}', "body-no-json"),
        (b"[" * 100_000, "body-no-json"),
        (b'{"a": ' + b"9" * 5_000 + b"}", "body-no-json"),
        (b'{"a": "\\ud800"}', "body-no-text"),
        (b'{"\\ud800": 1}', "body-no-text"),
        (b'{"a": "\xff"}', "body-no-text"),
        ("\N{BYTE ORDER MARK}{}".encode(), "body-no-json"),
    ],
)
def test_a_body_that_is_no_json(shop, raw, code):
    response = shop.api.send("POST", "/runs/", raw=raw)
    assert response.status_code == 400
    assert codes_of(json.loads(response.content)) == [(code, "")]


def test_an_empty_body_gives_nothing(shop):
    response = shop.api.send("POST", "/runs/", raw=b"")
    assert response.status_code == 422
    assert codes_of(json.loads(response.content)) == [
        ("field-missing", "/stage"),
        ("field-missing", "/started_at"),
    ]


def test_characters_that_cannot_be_kept(shop):
    assert refused(shop, sorting(shop, note="a\x00b")) == [("text-unreadable", "/note")]
    assert refused(shop, sorting(shop, note="x" * 501)) == [("text-too-long", "/note")]


def test_a_body_of_another_kind_or_size(shop, settings):
    form = shop.api.send("POST", "/runs/", raw=b"stage=sort", Content_Type="text/plain")
    assert form.status_code == 415
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    large = shop.api.send("POST", "/runs/", raw=b'{"note": "' + b"x" * 100 + b'"}')
    assert large.status_code == 413


def test_a_method_that_an_address_has_not(shop):
    response = shop.api.send("DELETE", f"/lots/{shop.bottles}/")
    assert response.status_code == 405 and response["Allow"] == "GET, HEAD, PATCH"
    assert shop.api.send("PUT", "/runs/", {}).status_code == 405
    assert shop.api.send("OPTIONS", "/runs/").status_code == 405


def test_a_form_of_answer_that_there_is_not(shop):
    shop.api.get("/lots/", status=406, Accept="application/xml")
    shop.api.get("/stages/", status=200, Accept="text/csv")
    shop.api.send("POST", "/runs/", sorting(shop), Accept="text/csv")


@pytest.mark.parametrize(
    "path",
    ["/nothing/", "/lots", "/lots/a/b/", "/", "/holds/x/release/", "/lots/%00/", "/runs/../lots/"],
)
def test_an_address_that_leads_nowhere(shop, path):
    for method in ("GET", "POST"):
        response = shop.api.send(method, path, {})
        assert response.status_code == 404
        assert response["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("code", ["L1-0", "zz", "L" * 41, "💧", "L5", "%2e%2e", "1' or '1'='1"])
def test_a_code_that_names_nothing(shop, code):
    for kind in ("lots", "runs", "collections"):
        shop.api.get(f"/{kind}/{code}/", status=404)
    shop.api.post(f"/runs/{code}/void/", {"reason": "x"}, status=404)


@pytest.mark.parametrize("number", [0, 2**63 - 1, 2**63, 10**30])
def test_an_id_that_names_nothing(shop, number):
    shop.api.post(f"/holds/{number}/release/", {"reason": "x"}, status=404)
    shop.api.post(f"/postings/{number}/corrections/", {"reason": "x", "mass_mg": 1}, status=404)
    shop.api.post(f"/keys/{number}/revoke/", {}, status=404)


def test_the_book_away_is_503_with_when_to_ask_again(shop, monkeypatch):
    from recycling.queries.balance import balance
    from recycling.services.runs import run_record

    def away(*_args, **_named):
        raise OperationalError("server closed the connection unexpectedly")

    monkeypatch.setattr(balance.Account.objects, "filter", away)
    response = shop.api.get("/balance/now/", status=503)
    assert response["Retry-After"] == "1"
    monkeypatch.setattr(run_record, "prepare", away)
    response = shop.api.send("POST", "/runs/", sorting(shop))
    assert response.status_code == 503 and response["Retry-After"] == "1"
    assert codes_of(json.loads(response.content)) == [("book-away", "")]


def test_the_database_away_at_the_door_is_503(shop, monkeypatch):
    from api.protocol import authentication

    def away(_secret):
        raise OperationalError("could not connect")

    monkeypatch.setattr(authentication, "key_use", away)
    assert shop.api.send("GET", "/lots/").status_code == 503


def test_problems_say_what_they_are(shop):
    response = shop.api.send("POST", "/runs/", sorting(shop, stage="knead"))
    problem = json.loads(response.content)
    assert response["Content-Type"] == "application/problem+json"
    assert problem["type"] == "urn:regrind-ledger:problem:stage-unknown"
    assert problem["title"] == "Not recorded"
    several = shop.api.post("/runs/", sorting(shop, a=1, machine=1.5), status=422)
    assert several["type"] == "urn:regrind-ledger:problem:several"


def test_a_reading_that_is_refused_is_not_called_a_recording(shop, api):
    answer = api.send("GET", "/balance/statement/?from=2026-05-02&to=2026-05-01")
    problem = json.loads(answer.content)
    assert problem["status"] == 422 and problem["title"] == "Not shown"


def test_a_problem_points_to_what_the_client_wrote(shop, api):
    wrong = {"source": "Nobody", "collected_at": "2999-01-01T00:00:00Z", "bags": []}
    assert refused(shop, wrong, path="/collections/") == [
        ("time-in-future", "/collected_at"),
        ("source-unknown", "/source"),
        ("bags-missing", "/bags"),
    ]
    run = api.post(
        "/runs/",
        {"stage": "dry", "state": "open", "started_at": MORNING, "machine": "dryer 1"},
    )
    path = f"/runs/{run['code']}"
    assert refused(shop, {"lot": "L1", "mass": "1 g"}, path=f"{path}/draws/") == [
        ("lot-unknown", "/lot")
    ]
    api.post(f"{path}/draws/", {"lot": shop.flake, "mass": "1 g"})
    assert refused(shop, {"form": "rings", "mass": "1 g"}, path=f"{path}/outputs/") == [
        ("form-wrong", "/form")
    ]
    assert refused(shop, {"account": "dust", "mass": "1 g"}, path=f"{path}/losses/") == [
        ("loss-wrong", "/account")
    ]
    assert refused(shop, {"key": "set_c", "value": 900}, path=f"{path}/settings/") == [
        ("number-out-of-bounds", "/value")
    ]
    late = {"key": "set_c", "value": 90, "at": "2999-01-01T00:00:00Z"}
    assert refused(shop, late, path=f"{path}/settings/") == [("time-in-future", "/at")]
    assert refused(shop, {"key": "x", "value": 9}, path=f"{path}/checks/") == [
        ("field-unknown", "/key")
    ]


def test_nothing_outside_the_api_is_reached(client, db):
    response = client.get("/api/v2/")
    assert response.status_code == 404
    assert response["Content-Type"] == "application/problem+json"
    assert client.get(f"{BASE}/").status_code == 404


def test_the_same_fault_in_two_fields_is_told_once_and_placed_twice(shop):
    times = {"started_at": "2026-03-02T08:00:00", "ended_at": "2026-03-02T09:00:00"}
    problem = shop.api.post("/runs/", {"stage": "sort", **times}, status=422)
    places = {error["pointer"] for error in problem["errors"]}
    assert {"/started_at", "/ended_at"} <= places
    assert problem["detail"].count("A time needs its offset") == 1
