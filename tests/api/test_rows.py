"""CSV as of RFC 4180, safe in a spreadsheet (OWASP ASVS 5.0, 1.2.10: CSV and formula injection)."""

from __future__ import annotations

import csv
import io
import json

import pytest

from api.protocol.rows import as_csv
from tests.api.conftest import sorting

PATHS = [
    "/lots/",
    "/runs/",
    "/collections/",
    "/purchases/",
    "/sources/",
    "/machines/",
    "/holds/",
    "/postings/",
    "/stages/",
    "/keys/",
    "/balance/stages/?to=2030-01-01",
    "/balance/statement/?to=2030-01-01",
    "/balance/flows/?to=2030-01-01",
]


def table(api, path: str) -> list[dict[str, str]]:
    response = api.get(path, Accept="text/csv")
    assert response["Content-Type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(response.content.decode())))


@pytest.mark.parametrize("path", PATHS)
def test_the_rows_are_the_same_as_in_json(shop, api, path):
    api.post("/runs/", sorting(shop))
    api.post(f"/lots/{shop.caps}/holds/", {"reason": "x"})
    rows, cells = api.read(path)["rows"], table(api, path)
    assert len(rows) == len(cells) > 0
    for row, line in zip(rows, cells, strict=True):
        for name, value in row.items():
            if isinstance(value, int) and not isinstance(value, bool):
                assert line[name] == str(value)
            elif isinstance(value, str) and not value.startswith(("=", "+", "-", "@")):
                assert line[name] == value


def test_every_account_of_the_balance_is_a_row(shop, api):
    rows = table(api, "/balance/now/")
    assert sum(int(row["mass_mg"]) for row in rows) == 0
    assert {"lot", "received"} == {row["account"] for row in rows}


def test_records_have_rows_of_their_own(shop, api):
    run = api.post("/runs/", sorting(shop))
    assert len(table(api, f"/runs/{run['code']}/")) == len(run["postings"])
    assert len(table(api, f"/lots/{shop.bottles}/origins/")) == 1
    assert len(table(api, f"/lots/{shop.bottles}/descendants/")) == 3
    assert table(api, f"/collections/{shop.collection}/")[0]["place"]
    assert table(api, "/audit/") == []


@pytest.mark.parametrize("payload", ["=1+1", "+1", "-1", "@SUM(A1)"])
def test_no_text_becomes_a_formula(shop, api, payload):
    made = api.post("/sources/", {"name": f"{payload} shop", "note": payload, "kind": "shop"})
    line = next(row for row in table(api, "/sources/") if row["id"] == str(made["id"]))
    assert line["note"] == f"'{payload}"
    assert not line["name"].startswith(("=", "+", "-", "@"))
    raw = api.get("/sources/", Accept="text/csv").content.decode()
    assert not [
        cell
        for row in csv.reader(io.StringIO(raw))
        for cell in row
        if cell[:1] in {"=", "+", "-", "@"}
    ]


@pytest.mark.parametrize("payload", ["\t=1", "\r=1"])
def test_what_hides_a_formula_behind_a_sign_is_refused(api, payload):
    problem = api.post("/sources/", {"name": "shop", "note": payload, "kind": "shop"}, status=422)
    assert {one["code"] for one in problem["errors"]} == {"text-unreadable"}


def test_numbers_below_zero_stay_numbers():
    assert as_csv([{"mass_mg": -5, "share": -0.5}]) == "mass_mg,share\r\n-5,-0.5\r\n"


def test_nested_values_have_columns_of_their_own():
    rows = [{"a": {"b": 1}, "l": ["x", "y"], "t": True, "n": None}, {"a": {"c": 2}}]
    assert as_csv(rows).splitlines() == ["a.b,l,t,n,a.c", "1,x; y,true,,", ",,,,2"]


def test_lists_of_formulas_are_texts_too():
    assert as_csv([{"defects": ["=1"]}]).splitlines()[1] == "'=1"


def test_pages_of_csv_are_linked(shop, api):
    response = api.get("/lots/?limit=2", Accept="text/csv")
    assert 'rel="next"' in response["Link"]
    assert json.loads(api.get("/lots/?limit=2").content)["next"] in response["Link"]
