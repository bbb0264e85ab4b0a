"""What adds up, read from outside: every account, every posting, every period."""

from __future__ import annotations

import json
from collections import Counter

from tests.api.conftest import MORNING, NOON, sorting
from tests.factories import KG, G


def test_balance_now_adds_up_to_zero(shop, api):
    api.post("/runs/", sorting(shop))
    api.post(
        "/runs/",
        {
            "stage": "dry",
            "state": "open",
            "machine": "dryer 1",
            "started_at": MORNING,
            "inputs": [{"lot": shop.flake, "mass": "1 kg"}],
        },
    )
    now = api.read("/balance/now/")
    masses = [one["mass_mg"] for part in ("lots", "in_process", "borders") for one in now[part]]
    assert sum(masses) == now["total_mg"] == 0
    assert [one["mass_mg"] for one in now["in_process"]] == [KG]
    assert now["sequence"] == 4


def test_postings_replay_to_the_balance(shop, api):
    """Anyone can check the book from outside: the postings alone give every lot's mass."""
    run = api.post("/runs/", sorting(shop), Idempotency_Key="from the scale")
    drawn = next(one for one in run["postings"] if one["lot"] == shop.bottles)
    path = f"/postings/{drawn['posting']}/corrections/"
    api.post(path, {"mass": "5.1 kg", "reason": "misread"})
    rows, after = [], 0
    while True:
        page = api.read(f"/postings/?after={after}&limit=3")
        rows += page["rows"]
        if not page["next"]:
            break
        after = page["next"]
    assert [row["posting"] for row in rows] == sorted({row["posting"] for row in rows})
    lots: Counter[str] = Counter()
    entries: Counter[int] = Counter()
    for row in rows:
        entries[row["sequence"]] += row["mass_mg"]
        if row["lot"]:
            lots[row["lot"]] += row["mass_mg"]
    assert set(entries.values()) == {0}
    now = {one["code"]: one["mass_mg"] for one in api.read("/balance/now/")["lots"]}
    assert {code: mass for code, mass in lots.items() if mass} == now
    assert "from the scale" in {row["key"] for row in rows}
    assert [row["corrects"] for row in rows if row["corrects"]] == [drawn["posting"]]


def test_stages_and_statement_of_a_period(shop, api):
    api.post("/runs/", sorting(shop))
    period = "from=2024-01-08&to=2024-01-09"
    stages = {row["stage"]: row for row in api.read(f"/balance/stages/?{period}")["rows"]}
    assert stages["sort"]["outputs_mg"] == {"product": 4_600 * G, "side": 250 * G}
    assert stages["sort"]["losses_mg"] == {"residue": 100 * G}
    assert stages["sort"]["unaccounted_mg"] == 50 * G
    rows = api.read(f"/balance/statement/?{period}")["rows"]
    assert [row["polymer"] for row in rows] == ["HDPE", "PET", "purge", ""]
    assert all(row["difference_mg"] == 0 for row in rows)
    assert rows[-1]["received_mg"] == 27_500 * G
    one = api.read(f"/balance/statement/?{period}&polymer=PET")["rows"]
    assert [row["polymer"] for row in one] == ["PET"]
    assert one == [row for row in rows if row["polymer"] == "PET"]
    assert api.read("/balance/stages/?from=2030-01-01&to=2031-01-01")["rows"] == []
    flows = api.read(f"/balance/flows/?{period}")["rows"]
    assert {"mass_mg", "role", "source", "target"} == set(flows[0])


def test_one_periods_closing_is_the_next_ones_opening(shop, api):
    api.post("/runs/", sorting(shop))
    first = api.read(f"/balance/statement/?to={NOON}")["rows"][-1]
    second = api.read(f"/balance/statement/?from={NOON}")["rows"][-1]
    assert first["closing_mg"] + first["in_process_mg"] == second["opening_mg"]


def test_a_statement_as_it_was_known(shop, api):
    before = api.read("/balance/statement/?known_at=2020-01-01T00:00:00Z")["rows"]
    assert [row["closing_mg"] for row in before] == [0]


def test_stock(shop, api):
    shop.api.post(f"/lots/{shop.caps}/holds/", {"reason": "x"})
    stock = api.read("/stock/")
    caps = next(row for row in stock["rows"] if row["form"] == "caps")
    assert (caps["mass_mg"], caps["held_mg"]) == (500 * G, 500 * G)
    assert stock["mass_mg"] == 27_500 * G


def test_audit_finds_a_sound_book_and_a_broken_one(shop, api):
    from django.db import connection

    assert api.read("/audit/") == {"sound": True, "findings": []}
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE recycling_lot SET made_mg = made_mg + 1 WHERE code = %s", [shop.bottles]
        )
    broken = json.loads(api.get("/audit/").content)
    assert not broken["sound"]
    assert f"lot {shop.bottles}" in {finding["subject"] for finding in broken["findings"]}
