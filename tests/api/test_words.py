"""Every text of every body, query and kept header: strange signs are refused, all others kept."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest

from tests.api.conftest import BASE, schema
from tests.nasty import ENDS_OF_LINES, KEPT, REFUSED

SOME = ("null", "bell", "next line", "noncharacter", "override")
LEAST_TEXTS = 120


def leaves(body: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Walk the texts of a body."""
    if isinstance(body, str):
        yield path
    elif isinstance(body, dict | list):
        for key, value in body.items() if isinstance(body, dict) else enumerate(body):
            yield from leaves(value, (*path, key))


def put(body: Any, path: tuple[Any, ...], text: str) -> Any:
    """Return the body with a text in a place."""
    body = deepcopy(body)
    inside = body
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = text
    return body


def bodies(shop) -> Iterator[tuple[str, Any]]:
    """Every address that is posted to with every example of what it takes."""
    known = {"lots": shop.bottles, "collections": shop.collection}
    for path, item in schema()["paths"].items():
        content = item.get("post", {}).get("requestBody", {}).get("content", {})
        for example in content.get("application/json", {}).get("examples", {}).values():

            def fill(match: re.Match[str], path: str = path) -> str:
                place = path[: match.start()].rstrip("/").rpartition("/")[2]
                return str(known.get(place, 1))

            yield re.sub(r"{\w+}", fill, path), example["value"]


def send(shop, path: str, body: Any) -> Any:
    return shop.api.client.post(
        path,
        json.dumps(body),
        content_type="application/json",
        headers={**shop.api.headers, "Idempotency-Key": str(uuid.uuid4())},
    )


@pytest.mark.slow
@pytest.mark.django_db
def test_no_text_of_any_body_takes_what_nobody_can_see(shop):
    told, texts, unreadable = [], 0, 0
    for number, (path, body) in enumerate(bodies(shop)):
        for place in leaves(body):
            texts += 1
            name = SOME[(number + texts) % len(SOME)]
            answer = send(shop, path, put(body, place, REFUSED[name]))
            unreadable += b"text-unreadable" in answer.content
            if not 400 <= answer.status_code < 500:
                told.append((path, place, name, answer.status_code))
    assert not told
    assert texts >= LEAST_TEXTS and unreadable >= 0.6 * texts, (texts, unreadable)


@pytest.mark.slow
@pytest.mark.django_db
def test_no_text_of_any_body_that_people_type_breaks_a_door(shop):
    told, texts, taken = [], 0, 0
    for number, (path, body) in enumerate(bodies(shop)):
        for place in leaves(body):
            texts += 1
            name = list(KEPT)[(number + texts) % len(KEPT)]
            answer = send(shop, path, put(body, place, KEPT[name]))
            taken += answer.status_code < 300
            if answer.status_code >= 500 or b"text-unreadable" in answer.content:
                told.append((path, place, name, answer.status_code))
    assert not told
    assert taken >= 20, taken


@pytest.mark.parametrize("name", KEPT)
def test_what_people_type_is_kept_as_it_was_typed(shop, api, name):
    text = KEPT[name]
    api.post("/sources/", {"name": text[:80], "note": f"{text}\n{text}"})
    row = next(one for one in api.read("/sources/")["rows"] if one["name"] == text[:80].strip())
    assert row["note"] == f"{text}\n{text}"


@pytest.mark.parametrize("name", [*REFUSED, *ENDS_OF_LINES])
@pytest.mark.parametrize("field", ["name", "note"])
def test_what_cannot_be_kept_is_named_with_its_place(shop, api, name, field):
    text = {**REFUSED, **ENDS_OF_LINES}[name]
    body = {"name": "Corner", "note": "", field: text}
    if field == "note" and name in ENDS_OF_LINES:
        api.post("/sources/", body)
        return
    problem = api.post("/sources/", body, status=422)
    (error,) = problem["errors"]
    assert (error["code"], error["pointer"]) == ("text-unreadable", f"/{field}")
    assert f"U+{ord(text[1]):04X}" in error["detail"] and "Sign 2" in error["detail"]


@pytest.mark.parametrize(
    "code", ["PE weiß", "PE_2", "PET\u0301", "P\u200dE", "PET/2", "👨‍👩‍👧", "a.b"]
)
def test_a_code_is_letters_digits_and_hyphens(shop, api, code):
    problem = api.post("/polymers/", {"code": code}, status=422)
    assert [one["code"] for one in problem["errors"]] == ["code-wrong"]


@pytest.mark.parametrize("code", ["rPET-2", "ПЭТ", "weiß"])
def test_codes_of_other_alphabets_are_codes(shop, api, code):
    api.post("/polymers/", {"code": code})


@pytest.mark.parametrize("name", [" ", "\u200b", "\u2060\ufeff", "\u3000"])
def test_a_name_of_nothing_to_be_seen_is_no_name(shop, api, name):
    problem = api.post("/sources/", {"name": name}, status=422)
    assert [one["code"] for one in problem["errors"]] == ["name-missing"]


@pytest.mark.parametrize("name", KEPT)
def test_texts_that_are_kept_can_be_searched_for(shop, api, name):
    answer = api.client.get(f"{BASE}/lots/", {"text": KEPT[name]}, headers=api.headers)
    assert answer.status_code == 200


@pytest.mark.parametrize("name", REFUSED)
def test_a_query_with_what_cannot_be_kept_is_refused(shop, api, name):
    answer = api.client.get(f"{BASE}/lots/", {"text": REFUSED[name]}, headers=api.headers)
    assert answer.status_code == 400 and b"text-unreadable" in answer.content
