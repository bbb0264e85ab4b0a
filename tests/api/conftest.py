"""A workshop with people, keys and a few lots, and a client that holds the API to its schema."""

from __future__ import annotations

import itertools
import json
import re
import uuid
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from typing import Any

import jsonschema
import pytest
from django.test import Client

from recycling.records.actors import Actor
from recycling.records.lots.origin_entries import BagEntry
from tests.factories import (
    KG,
    START,
    G,
    KeyFactory,
    MachineFactory,
    MemberFactory,
    OriginFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)

BASE = "/api/v1"
CANARY = "zq-canary-7f3a"
MORNING = START.isoformat()
NOON = START.replace(hour=12).isoformat()


@cache
def schema() -> dict[str, Any]:
    """Return the served OpenAPI document."""
    return json.loads(Client().get(f"{BASE}/schema/").content)


@cache
def addresses() -> list[tuple[re.Pattern[str], dict[str, Any]]]:
    """Pair each path of the document with a pattern; plain paths come before templates."""
    paths = sorted(schema()["paths"].items(), key=lambda item: ("{" in item[0], item[0]))
    return [(re.compile(re.sub(r"{\w+}", "[^/]+", path) + "$"), item) for path, item in paths]


def hold_to_schema(method: str, path: str, response: Any) -> None:
    """Fail when an answer is not what the document declares for its operation and status."""
    item = next((item for pattern, item in addresses() if pattern.match(path)), {})
    operation = item.get(method.lower())
    kind = response.headers.get("Content-Type", "").partition(";")[0]
    if operation is None:
        assert response.status_code in (401, 403, 404, 405), response.content
        assert kind == "application/problem+json"
        return check_shape("ProblemShown", response.content)
    declared = operation["responses"].get(str(response.status_code))
    assert declared, f"{method} {path}: {response.status_code} is not declared"
    if response.status_code == 304:
        assert not response.content
        return None
    assert kind in declared["content"], f"{method} {path}: {kind} is not declared"
    if kind.endswith("json"):
        check_schema(declared["content"][kind]["schema"], json.loads(response.content))
    return None


def check_shape(name: str, content: bytes) -> None:
    """Fail when JSON is not of a named shape of the document."""
    check_schema({"$ref": f"#/components/schemas/{name}"}, json.loads(content))


def check_schema(part: dict[str, Any], value: Any) -> None:
    """Fail when a value does not fit a part of the document."""
    whole = {**part, "components": schema()["components"]}
    jsonschema.Draft202012Validator(
        whole, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    ).validate(value)


class Program:
    """A program that holds a key; each answer is checked against the schema."""

    def __init__(self, secret: str = "") -> None:
        self.client = Client(raise_request_exception=False)
        self.headers = {"Authorization": f"Bearer {secret}"} if secret else {}

    def __deepcopy__(self, _memo: dict[int, Any]) -> Program:
        """Give the same key to a client of its own."""
        copy = Program()
        copy.headers = dict(self.headers)
        return copy

    def get(self, path: str, status: int = 200, **headers: str) -> Any:
        response = self.send("GET", path, **headers)
        assert response.status_code == status, response.content
        return response

    def read(self, path: str) -> Any:
        return json.loads(self.get(path).content)

    def post(self, path: str, body: Any = None, status: int = 201, **headers: str) -> Any:
        """Send a body under a fresh key, unless one is given, and return what came back."""
        response = self.send("POST", path, body, **headers)
        assert response.status_code == status, response.content
        return json.loads(response.content)

    def send(self, method: str, path: str, body: Any = None, raw: bytes | None = None, **headers):
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        if method in ("POST", "PATCH"):
            named = {"Idempotency-Key": str(uuid.uuid4()), **named}
        data = raw if raw is not None else json.dumps({} if body is None else body).encode()
        kind = named.pop("Content-Type", "application/json")
        response = self.client.generic(
            method,
            f"{BASE}{path}",
            b"" if method in ("GET", "HEAD") else data,
            content_type=kind,
            headers={**self.headers, **named},
        )
        if method != "HEAD":
            hold_to_schema(method, f"{BASE}{path}".partition("?")[0], response)
        assert response.status_code < 500 or response.status_code == 503, response.content
        return response


@dataclass(frozen=True)
class Shop:
    """A workshop, its people as actors, and a program for each."""

    lead: Actor
    programs: dict[str, Program]
    bottles: str
    caps: str
    flake: str
    dried: str
    purge: str
    collection: str

    @property
    def api(self) -> Program:
        return self.programs["lead"]


numbers = itertools.count(1)


def open_shop(mark: str = "") -> Shop:
    """Open a workshop with members, machines and lots; `mark` goes into each of its texts."""
    lead = WorkshopFactory(name=f"Shed {mark}{next(numbers)}")
    programs = {"lead": program(lead, "", "manage")}
    for role in ("operator", "viewer"):
        MemberFactory(actor=lead, name=f"{role}{mark}", role=role)
        programs[role] = program(lead, f"{role}{mark}", "record")
    source = f"Hillside School{mark}"
    SourceFactory(actor=lead, name=source, note=mark)
    ProgrammeFactory(actor=lead, name=f"Spring drive{mark}", funder=mark)
    ScaleFactory(actor=lead, name=f"floor scale{mark}")
    for kind in ("shredder", "dryer", "extruder", "winder"):
        MachineFactory(actor=lead, name=f"{kind} 1{mark}", kind=kind, note=mark)
    collection = OriginFactory(
        actor=lead,
        kind="collection",
        source=source,
        note=mark,
        bags=(
            BagEntry(10 * KG, note=mark, colour=mark),
            BagEntry(500 * G, form="caps", polymer="HDPE"),
        ),
    )
    bought = OriginFactory(
        actor=lead,
        supplier=mark,
        bags=(
            BagEntry(8 * KG, form="flake"),
            BagEntry(6 * KG, form="dried flake"),
            BagEntry(3 * KG, form="purge compound", polymer="purge"),
        ),
    )
    codes = [lot.code for lot in (*collection.lots, *bought.lots)]
    return Shop(lead, programs, *codes, collection.code)


def program(lead: Actor, member: str, scope: str) -> Program:
    """Give a member a key with a scope and return the program that holds it."""
    return Program(KeyFactory(actor=lead, member=member, scope=scope).secret)


@pytest.fixture(scope="module")
def made_shop(module_book) -> Shop:
    return open_shop()


@pytest.fixture(scope="module")
def made_other_shop(module_book) -> Shop:
    return open_shop(CANARY)


@pytest.fixture
def shop(made_shop, db) -> Shop:
    return deepcopy(made_shop)


@pytest.fixture
def other_shop(made_other_shop, db) -> Shop:
    return deepcopy(made_other_shop)


@pytest.fixture
def api(shop) -> Program:
    return shop.api


def sorting(shop: Shop, **changed: Any) -> dict[str, Any]:
    """Return the body of a whole sorting run that adds up."""
    return {
        "stage": "sort",
        "started_at": MORNING,
        "ended_at": NOON,
        "inputs": [{"lot": shop.bottles, "mass_mg": 5 * KG}],
        "outputs": [
            {"form": "clean bottles", "mass_mg": 4_600 * G},
            {"form": "caps", "polymer": "HDPE", "mass_mg": 250 * G},
        ],
        "losses": [{"account": "residue", "mass_mg": 100 * G, "how": "weighed pan"}],
        **changed,
    }


def codes_of(problem: dict[str, Any]) -> list[tuple[str, str]]:
    """List the code and place of each error of a problem."""
    return [
        (error["code"], error.get("pointer", f"?{error.get('parameter')}"))
        for error in problem["errors"]
    ]
