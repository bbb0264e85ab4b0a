"""Declared checks and the state of a spool by request: the same as on the pages."""

from __future__ import annotations

from tests.api.test_practice import spool_of

EVEN = [1.75, 1.74, 1.76, 1.75, 1.755, 1.745, 1.75, 1.76, 1.74, 1.75]
WILD = [1.40, 2.00, 1.62, 1.95, 1.55, 1.88, 1.75, 1.45, 1.90, 1.70]


def test_a_spool_is_judged_in_the_answer_to_its_readings(shop):
    spool = spool_of(shop)
    assert shop.api.read(f"/lots/{spool}/checks/")["state"]["state"] == "not judged"
    body = {"first_mm": EVEN, "second_mm": EVEN}
    found = shop.api.post(f"/lots/{spool}/filament/", body)["state"]
    assert (found["state"], found["missing"]) == ("passed", [])
    body = {"first_mm": WILD, "second_mm": WILD}
    assert shop.api.post(f"/lots/{spool}/filament/", body)["state"]["state"] == "failed"
    released = shop.api.post(f"/lots/{spool}/second-choice/", {"reason": "for test prints"})
    assert released["state"]["second_choice"] == "for test prints"
    assert released["state"]["state"] == "failed"


def test_a_check_is_declared_and_listed(shop):
    first = shop.api.read("/declared-checks/")["rows"]
    assert {row["source"] for row in first} == {"default, not checked"}
    body = {"quantity": "ovality", "high": 0.04, "least": 5, "source": "own trials"}
    row = shop.api.post("/declared-checks/", body)
    assert (row["edition"], row["rule"], row["needed"]) == (1, "mean", True)
    listed = shop.api.read("/declared-checks/")["rows"]
    assert len(listed) == len(first)
    assert row in listed
