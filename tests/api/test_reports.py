"""Reports through the API: asked for once, followed, fetched, superseded, shown in public."""

from __future__ import annotations

import hashlib
import json

import pytest

from recycling.models import Job, Report
from recycling.services.reports.make import report_make
from tests.api.conftest import CANARY, codes_of

KINDS = {
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
    "html": "text/html; charset=utf-8",
}
BODY = {"from_date": "2024-01-01", "to_date": "2024-03-31"}


def made(shop, **changed) -> str:
    code = shop.api.post("/reports/", {**BODY, **changed}, status=202)["code"]
    assert report_make(Job.objects.filter(task__endswith="make_report").latest("pk").pk)
    return code


def fetched(api, code, kind):
    """Fetch a file; what it holds is no JSON, so that the schema is not asked."""
    return api.client.get(f"/api/v1/reports/{code}.{kind}", headers=api.headers)


def test_a_report_is_followed_until_it_is_ready(shop):
    asked = shop.api.post("/reports/", {**BODY, "title": "Winter"}, status=202)
    assert (asked["state"], asked["step"], asked["files"]) == ("making", "waiting", [])
    for kind in KINDS:
        assert fetched(shop.api, asked["code"], kind).status_code == 404
    assert report_make(Job.objects.latest("pk").pk)
    ready = shop.api.read(f"/reports/{asked['code']}/")
    assert (ready["state"], ready["title"], ready["intact"]) == ("ready", "Winter", True)
    for one in ready["files"]:
        answer = fetched(shop.programs["viewer"], asked["code"], one["kind"])
        assert answer["Content-Type"] == KINDS[one["kind"]]
        assert one["name"] in answer["Content-Disposition"]
        assert hashlib.sha256(answer.content).hexdigest() == one["digest"]
    body = fetched(shop.api, asked["code"], "json").content
    assert hashlib.sha256(body).hexdigest() == ready["digest"]
    assert json.loads(body)["report"]["code"] == asked["code"]
    assert [row["code"] for row in shop.api.read("/reports/")["rows"]] == [asked["code"]]


def test_the_same_key_asks_once(shop):
    first, again = (
        shop.api.post("/reports/", BODY, status=202, Idempotency_Key="k") for _ in range(2)
    )
    assert first == again and Report.objects.count() == 1


def test_a_later_report_says_what_changed(shop):
    first = made(shop)
    bags = [{"polymer": "PET", "mass_mg": 7_000_000}]
    more = {"source": "Hillside School", "collected_at": "2024-02-01T10:00:00Z", "bags": bags}
    shop.api.post("/collections/", more)
    assert shop.api.read(f"/reports/{first}/")["entries_since"] == 1
    second = made(shop, supersedes=first)
    rows = shop.api.read(f"/reports/{second}/changes/")["rows"]
    counted = {(row["line"], row["column"]): row for row in rows if row["unit"] == "mg"}
    assert any(int(row["after"]) - int(row["before"]) == 7_000_000 for row in counted.values())
    assert shop.api.read(f"/reports/{first}/")["superseded_by"] == second
    problem = shop.api.post("/reports/", {**BODY, "supersedes": first}, status=422)
    assert codes_of(problem) == [("report-superseded", "/supersedes")]


@pytest.mark.parametrize(
    ("changed", "code", "pointer"),
    [
        ({"to_date": "2023-12-31"}, "period-backwards", "/to_date"),
        ({"from_date": "soon"}, "date-unreadable", "/from_date"),
        ({"counts_as": "wishes"}, "counter-unknown", "/counts_as"),
        ({"source": "nobody"}, "source-unknown", "/source"),
        ({"colour": "red"}, "field-unknown", "/colour"),
    ],
)
def test_what_is_refused_names_its_place(shop, changed, code, pointer):
    problem = shop.api.send("POST", "/reports/", {**BODY, **changed})
    assert problem.status_code in (400, 422)
    assert (code, pointer) in codes_of(json.loads(problem.content))


def test_a_public_address_is_given_shown_once_and_taken_away(shop):
    code = made(shop)
    given, again = (
        shop.api.post(f"/reports/{code}/links/", {"valid_days": 30}, Idempotency_Key="g")
        for _ in range(2)
    )
    assert given["token"] and again == {**given, "token": ""}
    assert shop.api.client.get(f"/r/{given['token']}/").status_code == 200
    for role in ("operator", "viewer"):
        shop.programs[role].post(f"/reports/{code}/links/", {}, status=403)
        (row,) = shop.programs[role].read(f"/reports/{code}/links/")["rows"]
        assert row["token"] == ""
    revoke = f"/reports/{code}/links/{given['link']}/revoke/"
    assert shop.api.post(revoke, {}, status=200) == {"report": code}
    assert shop.api.client.get(f"/r/{given['token']}/").status_code == 404
    shop.api.post(revoke, {}, status=404)
    problem = shop.api.post(f"/reports/{code}/links/", {"valid_days": 0}, status=422)
    assert codes_of(problem) == [("number-out-of-bounds", "/valid_days")]


def test_another_workshops_reports_are_404(shop, other_shop):
    code = made(other_shop, title=CANARY, note=CANARY, signed_by=[CANARY])
    link = other_shop.api.post(f"/reports/{code}/links/")["link"]
    for path in (f"/reports/{code}/", f"/reports/{code}/changes/", f"/reports/{code}/links/"):
        shop.api.get(path, status=404)
    for kind in KINDS:
        assert CANARY.encode() not in fetched(shop.api, code, kind).content
        assert fetched(shop.api, code, kind).status_code == 404
    shop.api.post(f"/reports/{code}/links/", {}, status=404)
    shop.api.post(f"/reports/{code}/links/{link}/revoke/", {}, status=404)
    assert shop.api.read("/reports/")["rows"] == []
