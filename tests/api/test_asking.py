"""Query parameters: known, single, of their kind."""

from __future__ import annotations

import json

import pytest

from tests.api.conftest import codes_of


@pytest.mark.parametrize(
    "query, code",
    [
        ("polymr=PET", "parameter-unknown"),
        ("format=csv", "parameter-unknown"),
        ("form=bottles&form=caps", "parameter-twice"),
        ("form=cookies", "choice-wrong"),
        ("state=gone", "choice-wrong"),
        ("spools=1", "choice-wrong"),
        ("limit=0", "number-out-of-bounds"),
        ("limit=201", "number-out-of-bounds"),
        ("limit=-1", "number-out-of-bounds"),
        ("limit=1_0", "number-out-of-bounds"),
        ("limit=%EF%BC%91", "number-out-of-bounds"),
        ("text=%00", "text-unreadable"),
        ("text=" + "x" * 201, "text-unreadable"),
    ],
)
def test_a_parameter_that_cannot_be_read(api, query, code):
    problem = json.loads(api.get(f"/lots/?{query}", status=400).content)
    assert codes_of(problem) == [(code, f"?{query.partition('=')[0]}")]


@pytest.mark.parametrize("cursor", ["x", "bjE", "💧", "bm4", "====", "n5", "bi05OTk"])
def test_a_cursor_that_is_none_of_ours(api, cursor):
    assert api.send("GET", f"/lots/?after={cursor}").status_code in (200, 422)


@pytest.mark.parametrize(
    "period, code",
    [
        ("from=2024-01-08T08:00:00", "time-without-offset"),
        ("from=yesterday", "time-unreadable"),
        ("from=2024-02-30", "date-unreadable"),
        ("to=9999-12-31T23:59:59-14:00", "time-unreadable"),
    ],
)
def test_a_period_that_cannot_be_read(api, period, code):
    for path in ("stages", "statement", "flows"):
        problem = json.loads(api.get(f"/balance/{path}/?{period}", status=400).content)
        assert codes_of(problem)[0][0] == code


def test_a_period_that_ends_before_it_starts(api):
    problem = json.loads(
        api.get("/balance/statement/?from=2024-02-01&to=2024-01-01", status=422).content
    )
    assert problem["errors"][0]["code"] == "end-before-start"


def test_a_plus_sign_that_arrived_as_a_space(api):
    shown = api.read("/balance/statement/?from=2024-01-08T08:00:00+02:00&to=2024-02-01")
    assert shown["rows"][-1]["start"] == "2024-01-08T06:00:00Z"


def test_a_day_begins_in_the_workshops_own_zone(db):
    from tests.api.conftest import program
    from tests.factories import WorkshopFactory

    lead = WorkshopFactory(zone="Pacific/Auckland")
    shown = program(lead, "", "read").read("/balance/statement/?from=2024-01-08&to=2024-01-09")
    assert shown["rows"][-1]["start"] == "2024-01-07T11:00:00Z"
