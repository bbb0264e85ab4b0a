"""The API does as its document says, whatever is asked of it.

``API_CASES`` sets how many requests are drawn and ``API_SEED`` which; both are printed with what
came of them.
"""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from typing import Any

import jsonschema
import pytest
from django.db import connection

from recycling.queries.integrity.audit import audit
from tests.api.conftest import (
    BASE,
    Program,
    Shop,
    check_schema,
    hold_to_schema,
    open_shop,
    schema,
)
from tests.api.drawn_requests import Drawing, Drawn
from tests.factories import MemberFactory

CASES = int(os.environ.get("API_CASES", "400"))
SEED = int(os.environ.get("API_SEED", "20240108"))
ROLES = {"lead": 6, "operator": 3, "viewer": 1}
LEAST_ACCEPTED = 0.3
LEAST_REACHED, MANY = 0.85, 2_000
"""Nearly every operation is accepted at least once when this many requests are drawn."""
BETWEEN_LISTINGS = 100


class Tried:
    """Requests drawn one after the other, and what came of them."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.drawing = shop, Drawing(schema(), random.Random(SEED))
        self.told: Counter[Any] = Counter()
        self.reached: set[tuple[str, str]] = set()
        self.faults: list[str] = []
        for number in range(2):
            MemberFactory(actor=shop.lead, name=f"Guest {number}")
        members = shop.api.read("/members/")["rows"]
        self.drawing.seen["members"] = [
            one["id"] for one in members if one["name"].startswith("Guest")
        ]

    def list_all(self) -> None:
        """Learn what there is."""
        for path in self.drawing.listings:
            self.drawing.learn(path, self.shop.api.read(path.removeprefix(BASE)))

    def one_more(self) -> None:
        """Draw a request, send it and hold the answer to the document."""
        role = self.drawing.dice.choices(list(ROLES), list(ROLES.values()))[0]
        drawn = self.drawing.request()
        response = send(self.shop.programs[role], drawn)
        self.told["cases"] += 1
        self.told[response.status_code] += 1
        self.faults += [f"{role}: {drawn}\n  {fault}" for fault in faults_of(drawn, response)]
        if response.status_code < 400:
            self.told["accepted"] += 1
            self.told["written"] += drawn.method != "GET"
            self.reached.add((drawn.method, drawn.template))
            if response.headers.get("Content-Type") == "application/json":
                self.drawing.learn(drawn.template, json.loads(response.content))


def send(program: Program, drawn: Drawn) -> Any:
    named = {"Content-Type": "application/json", **drawn.headers}
    return program.client.generic(
        drawn.method,
        drawn.path,
        drawn.raw,
        content_type=named.pop("Content-Type"),
        headers={**program.headers, **named},
    )


def faults_of(drawn: Drawn, response: Any) -> list[str]:
    """Say what is wrong with an answer."""
    found = []
    if response.status_code >= 500:
        found.append(f"answered with {response.status_code}")
    try:
        hold_to_schema(drawn.method, drawn.path.partition("?")[0], response)
    except (AssertionError, jsonschema.ValidationError) as error:
        found.append(f"not as declared: {str(error)[:800]}")
    if drawn.method != "GET" and response.status_code < 300 and not fits(drawn):
        found.append("taken, although the document forbids such a body")
    return found


def fits(drawn: Drawn) -> bool:
    """Say whether a body is as the document wants it."""
    wanted = schema()["paths"][drawn.template][drawn.method.lower()]["requestBody"]
    if not drawn.raw:
        return not wanted.get("required")
    try:
        check_schema(wanted["content"]["application/json"]["schema"], json.loads(drawn.raw))
    except (ValueError, jsonschema.ValidationError):
        return False
    return True


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_drawn_requests_are_answered_as_declared(tmp_path, settings, capsys):
    settings.DATA_DIR = tmp_path
    tried = Tried(open_shop())
    for case in range(CASES):
        if case % BETWEEN_LISTINGS == 0:
            tried.list_all()
        tried.one_more()
    told = tried.told
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{connection.vendor}: {told['cases']} requests (seed {SEED}),"
            f" {told['accepted']} accepted, {told['written']} of them wrote,"
            f" {len(tried.reached)} of {len(tried.drawing.operations)} operations,"
            f" {sum(told[status] for status in range(500, 600))} of 5xx,"
            f" {len(tried.faults)} not as declared"
        )
    assert not tried.faults, "\n".join(tried.faults[:20])
    assert told["cases"] and told["accepted"] >= LEAST_ACCEPTED * told["cases"]
    if CASES >= MANY:
        assert len(tried.reached) >= LEAST_REACHED * len(tried.drawing.operations)
    assert audit(tried.shop.lead.workshop_id) == []
