"""Idempotency keys as of the IETF draft "The Idempotency-Key HTTP Header Field", and forms."""

from __future__ import annotations

import json

import pytest

from recycling.models import Answer, Run
from tests.api.conftest import codes_of, sorting
from tests.factories import KG


def test_the_same_key_gives_the_first_answer_again(shop, api):
    first = api.send("POST", "/runs/", sorting(shop), Idempotency_Key="scale-1")
    again = api.send("POST", "/runs/", sorting(shop), Idempotency_Key="scale-1")
    assert (first.status_code, first.content) == (again.status_code, again.content)
    assert first.status_code == 201
    assert Run.objects.filter(stage="sort").count() == 1
    run = json.loads(first.content)["code"]
    assert {one["key"] for one in api.read(f"/runs/{run}/")["postings"]} == {"scale-1"}


def test_the_order_and_spacing_of_a_body_are_no_other_content(shop, api):
    body = sorting(shop)
    first = api.send("POST", "/runs/", body, Idempotency_Key="k")
    turned = json.dumps(dict(reversed(body.items())), indent=3).encode()
    assert api.send("POST", "/runs/", raw=turned, Idempotency_Key="k").content == first.content


def test_the_same_key_with_another_body_is_refused(shop, api):
    api.post("/runs/", sorting(shop), Idempotency_Key="k")
    other = api.post("/runs/", sorting(shop, note="other"), status=422, Idempotency_Key="k")
    assert codes_of(other) == [("key-reused", "")]
    elsewhere = api.post(
        "/sources/", {"name": "A", "kind": "shop"}, status=422, Idempotency_Key="k"
    )
    assert codes_of(elsewhere) == [("key-reused", "")]


def test_a_refused_key_stays_refused(shop, api):
    body = sorting(shop, inputs=[{"lot": shop.bottles, "mass": "11 kg"}])
    first = api.send("POST", "/runs/", body, Idempotency_Key="k")
    api.post(
        "/runs/",
        {
            **sorting(shop),
            "stage": "count",
            "inputs": [],
            "outputs": [],
            "losses": [],
            "counts": [{"lot": shop.bottles, "mass": "20 kg"}],
        },
    )
    again = api.send("POST", "/runs/", body, Idempotency_Key="k")
    assert first.status_code == again.status_code == 422
    assert first.content == again.content
    assert again["Content-Type"] == "application/problem+json"


def test_a_body_that_was_misread_keeps_its_refusal_too(shop, api):
    first = api.post("/runs/", {"stage": 5}, status=422, Idempotency_Key="k")
    again = api.post("/runs/", {"stage": 5}, status=422, Idempotency_Key="k")
    assert first == again
    assert codes_of(api.post("/runs/", sorting(shop), status=422, Idempotency_Key="k")) == [
        ("key-reused", "")
    ]


def test_what_is_no_json_uses_up_no_key(shop, api):
    assert api.send("POST", "/runs/", raw=b"{", Idempotency_Key="k").status_code == 400
    api.post("/runs/", sorting(shop), Idempotency_Key="k")


def test_a_refused_role_uses_up_no_key(shop):
    shop.programs["viewer"].post("/runs/", sorting(shop), status=403, Idempotency_Key="k")
    assert not Answer.objects.exists()
    shop.api.post("/runs/", sorting(shop), Idempotency_Key="k")


@pytest.mark.parametrize("key", ["", " ", '""', "x" * 201, "schlüssel".encode().decode("latin1")])
def test_a_key_that_is_none(shop, api, key):
    problem = api.post("/runs/", sorting(shop), status=400, Idempotency_Key=key)
    assert codes_of(problem)[0][0] in ("key-missing", "key-unreadable")
    assert not Run.objects.filter(stage="sort").exists()


def test_a_missing_key(shop, api):
    response = api.client.post(
        "/api/v1/runs/", json.dumps(sorting(shop)), "application/json", headers=api.headers
    )
    assert response.status_code == 400
    assert codes_of(json.loads(response.content)) == [("key-missing", "")]


def test_a_quoted_key_means_what_is_inside(shop, api):
    """The draft writes the key as a string of RFC 8941, in quotes."""
    first = api.post("/runs/", sorting(shop), Idempotency_Key='"scale-7"')
    assert api.post("/runs/", sorting(shop), Idempotency_Key="scale-7") == first


def test_two_workshops_may_use_the_same_key(shop, other_shop):
    shop.api.post("/runs/", sorting(shop), Idempotency_Key="k")
    other_shop.api.post("/runs/", sorting(other_shop), Idempotency_Key="k")


def test_the_key_of_another_member_is_no_answer_for_me(shop):
    """OWASP ASVS 5.0, 2.3 and 8.2: what one member was told is not told to another by a key."""
    first = shop.programs["operator"].post("/runs/", sorting(shop), Idempotency_Key="k")
    second = shop.api.post("/runs/", sorting(shop), Idempotency_Key="k")
    assert second["code"] != first["code"]
    assert shop.programs["operator"].post("/runs/", sorting(shop), Idempotency_Key="k") == first


def test_many_repeats_are_one_entry(shop, api):
    body = sorting(shop, inputs=[{"lot": shop.bottles, "mass_mg": KG}], outputs=[], losses=[])
    answers = {api.send("POST", "/runs/", body, Idempotency_Key="k").content for _ in range(20)}
    assert len(answers) == 1
    assert api.read(f"/lots/{shop.bottles}/")["mass_mg"] == 9 * KG


def test_pages_follow_each_other(shop, api):
    seen, path = [], "/lots/?limit=2&form=&polymer=PET".replace("form=&", "")
    while path:
        response = api.get(path)
        page = json.loads(response.content)
        assert len(page["rows"]) <= 2
        seen += [row["code"] for row in page["rows"]]
        link = response.headers.get("Link", "")
        assert bool(link) == bool(page["next"])
        path = link.partition(">")[0].removeprefix("</api/v1") if link else ""
    assert seen == [shop.dried, shop.flake, shop.bottles]


def test_answers_are_not_shared_by_caches(api):
    response = api.get("/lots/")
    assert response["Cache-Control"] == "private, no-cache"
    assert {"Accept", "Authorization"} <= {one.strip() for one in response["Vary"].split(",")}


def test_head_answers_as_get_without_a_body(shop, api):
    response = api.send("HEAD", "/lots/")
    assert response.status_code == 200 and response.content == b""
