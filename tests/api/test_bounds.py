"""What a body may hold: lengths come before what is in them, and answers stay short."""

from __future__ import annotations

import json

import pytest
from rest_framework_dataclasses.serializers import DataclassSerializer

from api.protocol import bounds, problems
from api.protocol.entries import EntrySerializer
from api.protocol.fields import MOST_WRONG
from recycling.keeping import once
from recycling.models import Answer, Lot
from tests.api.conftest import MORNING, codes_of, sorting

MANY = 100_000
LISTS = [
    ("/collections/", "bags"),
    ("/purchases/", "bags"),
    ("/openings/", "bags"),
    ("/runs/", "inputs"),
    ("/runs/", "outputs"),
    ("/runs/", "losses"),
    ("/runs/", "operators"),
    ("/runs/", "feeds"),
    ("/runs/", "settings"),
    ("/runs/", "checks"),
    ("/runs/", "counts"),
    ("/imports/", "nobody knows"),
]


@pytest.fixture
def nothing_read(monkeypatch):
    """Fail when anything is made of what is inside a body."""
    monkeypatch.setattr(
        DataclassSerializer, "run_validation", lambda *_: pytest.fail("it was looked at")
    )


@pytest.mark.parametrize("path, name", LISTS)
@pytest.mark.parametrize("one", [{}, [], "x"], ids=["objects", "lists", "texts"])
def test_a_list_is_measured_before_it_is_looked_at(shop, nothing_read, path, name, one):
    problem = shop.api.post(path, {name: [one] * MANY}, status=422)
    assert codes_of(problem) == [("list-too-long", f"/{name}")]
    assert not Answer.objects.exists()


def test_a_body_that_is_a_list_is_measured_too(shop, nothing_read):
    for path in (f"/runs/{'R1-X'}/draws/", "/collections/"):
        problem = shop.api.post(path, [{}] * MANY, status=422)
        assert codes_of(problem) == [("list-too-long", "")]


def deep(levels: int) -> str:
    return '{"a":' * levels + "1" + "}" * levels


RAW = {
    "nested": deep(50),
    "nested beyond reading": deep(50_000),
    "lists in lists": "[" * 50_000,
    "many names": json.dumps({str(n): n for n in range(MANY)}),
    "a name twice among many": "{" + "".join(f'"{n}":1,' for n in range(20_000)) + '"7":1}',
    "a number without end": '{"mass_mg": ' + "9" * 10_000 + "}",
    "many short lists": json.dumps({"bags": [{"a": [[]] * 499} for _ in range(500)]} | {"b": [1]}),
}


@pytest.mark.parametrize("name", RAW)
def test_a_body_that_nobody_writes_is_refused_in_few_words(shop, nothing_read, name):
    answer = shop.api.send("POST", "/collections/", raw=RAW[name].encode())
    assert answer.status_code in (400, 422) and len(answer.content) < 1_000
    assert not Answer.objects.exists()


def test_a_number_beyond_numbers_is_none(shop):
    body = sorting(shop)
    raw = json.dumps(body).replace(str(body["outputs"][0]["mass_mg"]), "1e400", 1)
    answer = shop.api.send("POST", "/runs/", raw=raw.encode())
    assert answer.status_code == 422 and b"whole-wanted" in answer.content


def test_an_answer_names_a_hundred_problems_and_counts_the_rest(shop):
    bags = [{}] * bounds.MOST_LISTED
    problem = shop.api.post("/collections/", {"bags": bags}, status=422)
    assert len(problem["errors"]) == problems.MOST_NAMED
    more = 2 * bounds.MOST_LISTED + 2 - problems.MOST_NAMED  # polymer and mass; source and time
    assert problem["more_errors"] == more and problem["detail"].endswith(f"And {more:,} more.")
    assert len(Answer.objects.get().body) < once.LARGEST_KEPT / 10


def test_what_was_sent_comes_back_cut(shop):
    bag = {"form": "f" * 20_000, "polymer": "P" * 20_000, "mass": "1 kg"}
    body = {"source": "S" * MANY, "collected_at": MORNING, "bags": [bag] * 50}
    problem = shop.api.post("/collections/", body, status=422)
    longest = problems.LONGEST_DETAIL
    assert all(len(one["detail"]) <= longest for one in problem["errors"])
    assert len(Answer.objects.get().body) <= once.LARGEST_KEPT


def test_a_long_answer_is_given_once_and_kept_in_short(shop, monkeypatch):
    monkeypatch.setattr(once, "LARGEST_KEPT", 50)
    lots = Lot.objects.count()
    bag = {"form": "bottles", "polymer": "PET", "mass": "1 kg"}
    body = {"source": "Hillside School", "collected_at": MORNING, "bags": [bag]}
    first = shop.api.post("/collections/", body, Idempotency_Key="one")
    assert first["lots"] and Answer.objects.get(key="one").body == ""
    again = shop.api.post("/collections/", body, status=409, Idempotency_Key="one")
    assert codes_of(again) == [("answer-not-kept", "")]
    assert Lot.objects.count() == lots + 1


def test_a_long_list_that_is_wrong_throughout_is_left_after_a_thousand(shop, monkeypatch):
    looked = []
    read = EntrySerializer.to_internal_value
    monkeypatch.setattr(
        EntrySerializer, "to_internal_value", lambda *given: looked.append(1) or read(*given)
    )
    body = {"machine": "extruder 1", "kind": "power", "readings": [{}] * 50_000}
    problem = shop.api.post("/energy/readings/", body, status=422)
    assert len(problem["errors"]) == problems.MOST_NAMED and problem["more_errors"]
    assert len(looked) == 1 + MOST_WRONG
