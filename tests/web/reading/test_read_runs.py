"""Runs: what went in, came out, was lost and is unaccounted for, in full sight."""

from __future__ import annotations

import math
import re
from datetime import timedelta

from recycling.calc.balance.coverage import half_interval
from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_record import run_record
from recycling.services.runs.void import run_void
from tests.web.reading.reading_pages import csv_of, milligrams, table_of, text_of


def test_a_run_closes_in_its_table(book, page):
    """6.300 kg in; 6.010, 0.180, 0.090 and 0.012 kg out: 0.008 kg is left."""
    answer = page(f"runs/{book.codes['shred']}/")
    rows = dict(row[:2] for row in table_of(answer, "What closes it, in kg"))
    assert rows["goes in"] == "6.300"
    assert rows["product"] == "− 6.010"
    assert rows["goes round again"] == "− 0.180"
    assert rows["waste"] == "− 0.090"
    assert rows["dust bag of the extractor"] == "− 0.012"
    left, sure = rows["unaccounted 0.127 % of what went in"].split(" ± ")
    assert left == "0.008" and re.match(r"\d+ g k = 1\.\d\d, ν = ∞; ", sure)
    # two rectangles of 10 g and two of half a step of 5 g, of 6.010 and 6.300 kg: not √(…) · 2
    limits = (0.954 * 10 / 6010, 0.954 * 10 / 6300)
    steps = 0.954 * 5 / math.sqrt(12) * math.hypot(1 / 6010, 1 / 6300)
    half = 100 * half_interval(limits, (steps, math.inf))
    assert f"Yield 95.40 ± {half:.2f} %" in text_of(answer)


def test_outputs_have_their_shapes_and_roles(book, page):
    answer = page(f"runs/{book.codes['shred']}/")
    rows = table_of(answer, "What came out")
    assert [(row[1].split()[0], row[2]) for row in rows[1:4]] == [
        ("6.010", "product"),
        ("0.180", "goes round again"),
        ("0.090", "waste"),
    ]
    assert "#form-oversize" in answer.content.decode()


def test_a_gain_is_flagged_and_shown_with_its_sign(book, page):
    made = run_record(
        book.actor,
        RunEntry(
            "sort",
            book.at(50),
            book.at(51),
            inputs=(DrawEntry(book.codes["late bag 1"], all=True),),
            outputs=(OutputEntry("clean bottles", 1_300_000),),
        ),
    )
    answer = page(f"runs/{made.code}/")
    assert "More came out than went in" in text_of(answer)
    assert '<td class="number gain">0.100' in answer.content.decode()
    listed = table_of(page("runs/"), "Runs, the newest first")
    assert next(row for row in listed if row[0] == made.code)[5] == "0.100 gain"
    exported = csv_of(page("runs/", format="csv"))[0]
    assert milligrams(exported["unaccounted, kg"]) == -100_000


def test_the_settings_log_keeps_each_change_with_what_was_seen(book, page):
    answer = page(f"runs/{book.codes['extrude']}/")
    rows = table_of(answer, "Settings, each change with what was seen")
    assert [row[1:4] for row in rows[1:]] == [
        ["Zone 1", "255 °C", "bubbles"],
        ["Zone 1", "260 °C", "smooth"],
    ]
    refills = table_of(answer, "Refills, in the order fed")
    assert refills[1][1:] == [book.codes["dry dried flake"], "4.000"]


def test_times_are_those_of_the_workshop(book, page):
    """Summer time in Lisbon begins on 29 March 2026 (tz database): here it is still winter."""
    assert "2 Mar 2026, 14:00" in text_of(page(f"runs/{book.codes['sort']}/"))
    late = run_record(
        book.actor,
        RunEntry(
            "sort",
            book.at(0) + timedelta(days=60),
            book.at(0) + timedelta(days=60, hours=1),
            inputs=(DrawEntry(book.codes["late bag 1"], all=True),),
            outputs=(OutputEntry("clean bottles", 1_200_000),),
        ),
    )
    assert "1 May 2026, 09:00" in text_of(page(f"runs/{late.code}/"))


def test_an_open_run_has_its_clock_its_mass_inside_and_what_can_be_done(book, page):
    code = book.codes["open"]
    answer = page(f"runs/{code}/")
    html = answer.content.decode()
    assert "data-since" in html and "2.500" in html
    for deed in ("draw", "output", "loss", "note", "close"):
        assert f'href="/w/quay/runs/{code}/{deed}/"' in html, deed
    assert "known when the run is closed" in text_of(answer)


def test_a_closed_run_offers_no_draw_but_a_void(book, page):
    html = page(f"runs/{book.codes['extrude']}/").content.decode()
    assert "/draw/" not in html and "/void/" in html


def test_a_voided_run_stays_readable(book, page):
    code = book.codes["extrude"]
    before = table_of(page(f"runs/{code}/"), "Postings of this run")
    run_void(book.actor, code, "recorded twice")
    answer = page(f"runs/{code}/")
    assert "undone by opposite postings" in text_of(answer)
    after = table_of(answer, "Postings of this run")
    kept = [row[2].split()[0] for row in after[1 : len(before)]]
    assert kept == [row[2].split()[0] for row in before[1:]]
    assert "recorded twice" in text_of(answer)
    assert "/correct/" not in answer.content.decode() and "/void/" not in answer.content.decode()


def test_runs_are_filtered_and_exported(book, page):
    rows = csv_of(page("runs/", format="csv", stage="shred"))
    assert [row["run"] for row in rows] == [book.codes["shred"]]
    assert {row["state"] for row in csv_of(page("runs/", format="csv", state="open"))} == {"open"}
    machine = csv_of(page("runs/", format="csv", machine="Thin Oven"))
    assert [row["run"] for row in machine] == [book.codes["dry"]]


def test_the_postings_of_a_run_add_up_to_zero_in_its_csv(book, page):
    for name in ("sort", "shred", "dry", "extrude"):
        rows = csv_of(page(f"runs/{book.codes[name]}/", format="csv"))
        assert sum(milligrams(row["mass, kg"]) for row in rows) == 0
    kinds = {row["kind"] if "kind" in row else row["what"] for row in rows}
    assert kinds == {"run"}


def test_the_yield_is_that_of_the_runs_own_polymer(book, page):
    words = text_of(page(f"runs/{book.codes['sort']}/"))
    assert re.search(r"Yield 90\.0+ ± 0\.\d+ % k = 1\.[6-9]\d, ν = ∞; ", words)


def test_every_typed_figure_says_how_sure_it_is_and_whether_the_run_closes(book, page):
    answer = page(f"runs/{book.codes['extrude']}/")
    rows = table_of(answer, "What came out")
    assert all(" ± " in row[1] for row in rows[1:-1])
    assert rows[1][1].endswith("weighed, assumed 5 g, default, not checked"), "no scale was named"
    assert rows[5][1].endswith("estimated, assumed 20 %, default, not checked"), (
        "nothing was stated"
    )
    words = text_of(answer)
    assert "balances" in words and "Part of the uncertainty is assumed" in words
    assert (
        "± "
        in dict(row[:2] for row in table_of(answer, "What closes it, in kg"))[
            "unaccounted 3.62 % of what went in"
        ]
    )


def test_a_run_that_does_not_close_says_what_may_have_happened(book, page):
    """1.200 kg in, 1.000 kg out, and 0.200 kg of rejects entered twice: 0.200 kg too much."""
    made = run_record(
        book.actor,
        RunEntry(
            "sort",
            book.at(50),
            book.at(51),
            inputs=(DrawEntry(book.codes["late bag 1"], all=True),),
            outputs=(
                OutputEntry("clean bottles", 1_000_000),
                *(OutputEntry("reject", 200_000, polymer="PET") for _ in range(2)),
            ),
        ),
    )
    answer = page(f"runs/{made.code}/")
    words = text_of(answer)
    assert "check it" in words
    listed = table_of(page("runs/"), "Runs, the newest first")
    assert next(row for row in listed if row[0] == made.code)[6] == "check it"
    assert "What may have happened" in words
    assert re.search(
        r'href="/w/quay/postings/\d+/correct/\?likely=\d+">Correct', answer.content.decode()
    )
