"""The balance of a period: stages, the drawing of the flows, and a statement that closes."""

from __future__ import annotations

import json
import re
from datetime import date

import pytest

from recycling.records.balance.balance import Flow
from recycling.tables.lists.entries_file import read_entries
from recycling.tasks.lists.load import entries_load
from recycling.web.pages.figures import period_sankey
from recycling.web.pages.periods import presets
from tests.checked import check_text
from tests.web.reading.reading_pages import csv_of, milligrams, table_of, text_of

SEASON = {"from": "2026-03-01", "to": "2026-03-31"}


def test_the_statement_closes_to_the_milligram_for_every_polymer(book, page):
    rows = csv_of(page("balance/", format="csv", table="statement", **SEASON))
    assert [row["polymer"] for row in rows] == ["HDPE", "PET", "PP", "all"]
    for row in rows:
        mg = {name: milligrams(cell) for name, cell in row.items() if name.endswith("kg")}
        there = mg["opening, kg"] + mg["received, kg"] + mg["reclassified, kg"]
        gone = sum(mg[f"{name}, kg"] for name in ("dispatched", "discarded", "unaccounted"))
        gone += sum(mg[f"{name}, kg"] for name in ("water", "residue", "dust", "volatiles"))
        assert there == gone + mg["closing, kg"] + mg["in process, kg"], row["polymer"]
        assert mg["difference, kg"] == 0
    assert milligrams(rows[-1]["received, kg"]) == 10_700_000


def test_one_periods_closing_is_the_next_ones_opening(book, page):
    early = csv_of(page("balance/", format="csv", table="statement", to="2026-03-02"))[-1]
    late = {"from": "2026-03-03", "to": "2026-03-31"}
    next_ = csv_of(page("balance/", format="csv", table="statement", **late))[-1]
    closing = milligrams(early["closing, kg"]) + milligrams(early["in process, kg"])
    assert closing == milligrams(next_["opening, kg"]) > 0


def test_the_page_says_that_it_closes_and_shows_each_stage(book, page):
    answer = page("balance/", **SEASON)
    words = text_of(answer)
    assert "closes to the milligram" in words
    rows = table_of(answer, "Each stage, in kg")
    shred = next(row for row in rows if row[0] == "Shred")
    assert shred[1:6] == ["1", "6.300", "95.4 %", "0.008", "6.010"]
    assert table_of(answer, "Statement in kg, to the milligram")[-1] == [
        "difference",
        *["0.000000"] * 4,
    ]


def test_the_caption_of_the_flows_says_the_finding(book, page):
    words = text_of(page("balance/", **SEASON))
    assert "10.700 kg came in and 3.000 kg of filament was made." in words
    assert "193 g is unaccounted for." in words


def test_the_flows_are_drawn_and_can_be_explored(book, page):
    html = page("balance/", **SEASON).content.decode()
    assert "flows-drawing-title" in html and "plotly" not in html and "flows-data" not in html
    html = page("balance/", explore="flows", **SEASON).content.decode()
    assert "flows-drawing-title" in html and "plotly" in html and "months-data" not in html
    figure = json.loads(re.search(r'id="flows-data" type="application/json">(.*?)</', html)[1])
    assert figure["data"][0]["type"] == "sankey"
    drawn = sum(figure["data"][0]["link"]["value"])
    rows = csv_of(page("balance/", format="csv", table="flows", **SEASON))
    assert drawn == pytest.approx(sum(milligrams(row["mass, kg"]) for row in rows) / 1e6)
    assert len(figure["data"][0]["link"]["value"]) <= len(rows)


def test_what_runs_back_is_drawn_without_a_circle():
    """Flake washed after shredding runs back in the order of stages; a heel runs in a ring."""
    moved = [
        Flow("Shred", "Wash", 4_000_000, "product"),
        Flow("Wash", "Shred", 5_000_000, "product"),
        Flow("Extrude", "Extrude", 500_000, "heel"),
        Flow("Wash", "Unaccounted", 30_000, "loss"),
    ]
    figure = period_sankey(moved, "Flows", "They run.", "")
    labels = [node.label for node in figure.record.nodes]
    assert "Wash, again" in labels and "Extrude, again" in labels
    assert figure.svg.count("4.000") and "role-unaccounted" in figure.svg
    assert len(figure.rows) == 4


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"from": "2026-02-30"}, "from"),
        ({"to": "soon"}, "to"),
        ({"from": "2026-04-01", "to": "2026-03-01"}, "to"),
        ({"from": "0001-01-01"}, "from"),
        ({"to": "９９９９-12-31"}, "to"),
    ],
)
def test_a_period_that_cannot_be_is_refused_with_what_was_typed_kept(book, page, query, field):
    answer = page("balance/", status=422, **query)
    html = answer.content.decode()
    assert f'href="#period-{field}"' in html and 'aria-invalid="true"' in html
    for typed in query.values():
        assert f'value="{typed}"' in html


def test_a_period_without_runs_says_so_and_still_closes(book, page):
    words = text_of(page("balance/", **{"from": "2001-01-01", "to": "2001-12-31"}))
    assert "No run ended in this period" in words and "closes to the milligram" in words


def test_the_polymer_narrows_the_stages(book, page):
    rows = csv_of(page("balance/", format="csv", table="stages", polymer="HDPE", **SEASON))
    assert rows == []


def test_presets_end_today_and_begin_where_they_say():
    found = {one.key: (one.first, one.last) for one in presets(date(2028, 2, 29))}
    assert found["last-month"] == (date(2028, 1, 1), date(2028, 1, 31))
    assert found["quarter"] == (date(2028, 1, 1), date(2028, 2, 29))
    assert found["twelve"] == (date(2027, 3, 1), date(2028, 2, 29))
    assert presets(date(2026, 1, 1))[1].first == date(2025, 12, 1)


def test_the_page_shows_the_figures_of_the_worked_book(client, db):
    """Source: ``tests/checks/book_120.json``, worked out elsewhere."""
    from django.contrib.auth import get_user_model

    text = check_text("book_120.json")
    loaded = entries_load("worked", read_entries(text))
    expected = json.loads(text)["expected"]
    client.force_login(
        get_user_model().objects.get(username="worked-lead"),
        "recycling.web.people.People",
    )
    query = {"format": "csv", "table": "stages", "from": "2022-01-01", "to": "2024-01-01"}
    rows = {row["stage"]: row for row in csv_of(client.get("/w/worked/balance/", query))}
    names = {"side_mg": "side stream", "recirculate_mg": "round again"}
    for stage, figures in expected["stages"].items():
        for name, mass_mg in figures.items():
            column = names.get(name, name.removesuffix("_mg")) + ", kg"
            assert milligrams(rows[stage][column]) == mass_mg, (stage, name)
    query["table"] = "statement"
    whole = csv_of(client.get("/w/worked/balance/", query))[-1]
    last = expected["statements"][-1]
    for name in ("received", "dust", "water", "volatiles", "unaccounted", "closing"):
        assert milligrams(whole[f"{name}, kg"]) == last[f"{name}_mg"], name
    for lot, mass_mg in list(expected["on_hand_mg"].items())[::10]:
        answer = client.get(f"/w/worked/lots/{loaded.codes[lot]}/")
        assert f"{mass_mg / 1e6:.3f} kg on hand" in text_of(answer)


def test_the_period_that_is_shown_is_marked_though_nobody_chose_it(book, page):
    shown = page("balance/").context["presets"]
    assert "Last twelve months" in [one["label"] for one in shown if one["current"]]
