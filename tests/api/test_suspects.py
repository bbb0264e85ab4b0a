"""The search for a cause by request: the same answer as on the pages, never called proof."""

from __future__ import annotations

import csv
import io
import json

import pytest

from recycling.models import KeptFinding
from recycling.queries.suspects.ranking import suspects
from tests.api.conftest import Program
from tests.factories import KeyFactory, MemberFactory
from tests.queries.spoilt import judge, spoilt_book

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db):
    told = spoilt_book()
    for place in range(6):
        judge(told, f"S{place}", good=place % 2 == 0)
    return told


@pytest.fixture
def api(told) -> Program:
    return Program(KeyFactory(actor=told.actor, scope="manage").secret)


def test_the_ranking_is_that_of_the_pages(told, api):
    found = api.post("/suspects/", {}, status=200)
    same = suspects(told.actor, limit=50)
    assert found["state"] == same.state == "suspect"
    assert [row["posterior"] for row in found["rows"]] == [row.posterior for row in same.rows]
    first = found["rows"][0]
    assert told.code("C2") in {one["code"] for one in first["members"]}
    assert (first["exposed_bad"], first["exposed_good"]) == (3, 0)
    assert found["words"][0].startswith("Suspicion falls on the first line")
    assert found["wanted"][0]["lot"] in {told.code("S6"), told.code("S7")}


def test_a_viewers_reading_key_may_ask(told):
    viewer = MemberFactory(actor=told.actor, name="Vi", role="viewer")
    program = Program(KeyFactory(actor=told.actor, member=viewer.name, scope="read").secret)
    assert program.post("/suspects/", {}, status=200)["bad_spools"] == 3
    program.post("/findings/", {"title": "t"}, status=403)


def test_the_question_narrows_and_the_priors_change_the_answer(told, api):
    usual = api.post("/suspects/", {}, status=200)
    unlikely = api.post("/suspects/", {"priors": {"cause_probability": 0.01}}, status=200)
    assert unlikely["rows"][0]["posterior"] < usual["rows"][0]["posterior"]
    assert unlikely["priors"]["cause_probability"] == 0.01
    origins = api.post("/suspects/", {"kinds": ["origin"]}, status=200)
    assert {one["kind"] for row in origins["rows"] for one in row["members"]} == {"origin"}
    later = {"from": "2030-01-01T00:00:00Z"}
    assert api.post("/suspects/", later, status=200)["state"] == "no_verdicts"


@pytest.mark.parametrize(
    ("body", "code", "pointer"),
    [
        ({"defects": ["brittle", "ugly"]}, "defect-unknown", "/defects/1"),
        ({"kinds": ["lot", "moon"]}, "kind-unknown", "/kinds/1"),
        ({"priors": {"full_share": 0}}, "prior-out-of-range", "/priors/full_share"),
        (
            {"from": "2024-02-01T00:00:00Z", "to": "2024-01-01T00:00:00Z"},
            "period-backwards",
            "/to",
        ),
        ({"from": "2024-02-01T00:00:00"}, "time-without-offset", "/from"),
        ({"priors": {"full_share": "much"}}, "number-wanted", "/priors/full_share"),
        ({"causes": []}, "field-unknown", "/causes"),
        ({"defect": "brittle"}, "field-unknown", "/defect"),
        ({"from_": "2024-02-01T00:00:00Z"}, "field-unknown", "/from_"),
    ],
)
def test_what_cannot_be_asked_names_its_place(api, body, code, pointer):
    problem = api.post("/suspects/", body, status=422)
    assert [(one["code"], one["pointer"]) for one in problem["errors"]] == [(code, pointer)]


def test_a_finding_is_kept_listed_and_read(told, api):
    kept = api.post("/findings/", {"title": "Brittle", "defects": ["brittle"]})
    assert api.read("/findings/")["rows"][0]["digest"] == kept["digest"]
    record = api.read(f"/findings/{kept['number']}/")
    assert record["intact"] and record["suspects"]["state"] == "suspect"
    api.post("/findings/", {"title": ""}, status=422)
    api.get("/findings/99/", status=404)
    api.get(f"/findings/{2**70}/", status=404)
    twice = {"Idempotency_Key": "k-1"}
    first = api.post("/findings/", {"title": "Once"}, **twice)
    assert api.post("/findings/", {"title": "Once"}, **twice) == first
    assert KeptFinding.objects.count() == 2


def test_what_is_in_a_spool_and_what_is_affected(told, api):
    contents = api.read(f"/lots/{told.code('S1')}/contents/")
    assert contents["parts"][0]["candidate"]["kind"] == "origin"
    reached = api.read(f"/collections/{told.code('C2')}/affected/")
    assert {one["lot"] for one in reached["spools"]} == {
        told.code(name) for name in ("S1", "S3", "S5", "S7")
    }
    assert api.read(f"/runs/{told.code('D1')}/affected/")["spools"][0]["lot"] == told.code("S1")
    answer = api.get(f"/lots/{told.code('FB.1')}/affected/", Accept="text/csv")
    assert len(list(csv.DictReader(io.StringIO(answer.content.decode())))) == 4


def test_receivers_are_for_those_allowed_only(told):
    told.tell("X1 dispatch S1 100g")
    viewer = MemberFactory(actor=told.actor, name="Vi", role="viewer")
    program = Program(KeyFactory(actor=told.actor, member=viewer.name, scope="read").secret)
    handed = [
        one
        for spool in program.read(f"/lots/{told.code('S1')}/affected/")["spools"]
        for one in spool["handed"]
    ]
    assert [(one["receiver"], one["document"]) for one in handed] == [("", "")]


def test_workshops_do_not_meet(told, api):
    strange = spoilt_book(spools=2)
    program = Program(KeyFactory(actor=strange.actor, scope="manage").secret)
    kept = api.post("/findings/", {"title": "Ours"})
    program.get(f"/findings/{kept['number']}/", status=404)
    codes = set(told.codes.values()) - set(strange.codes.values())
    for code in (one for one in codes if one[0] in "LS"):
        program.get(f"/lots/{code}/contents/", status=404)
        program.get(f"/lots/{code}/affected/", status=404)
    asked = program.post("/suspects/", {"spools": sorted(codes)[:5]}, status=200)
    assert asked["rows"] == [] and json.dumps(asked).count("Source of") == 0
