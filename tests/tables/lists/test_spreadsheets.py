"""Spreadsheets as text: what cells hold, what is named instead of passed over, and bombs.

Members and relations of the files are those of ECMA-376, parts 1 and 2; sizes are ours.
"""

from __future__ import annotations

import io
import os
import random
import re
import subprocess
import sys
import zipfile
from datetime import date, datetime, time

import openpyxl
import pytest
import xlsxwriter

from recycling.tables.lists import spreadsheets
from recycling.tables.lists.entries_csv import read_rows
from recycling.tables.lists.spreadsheets import check_unpacked, read_here, spreadsheet_text
from shared.errors import Refused

ZONE = "Europe/Lisbon"
HEADS = ["at", "source", "polymer", "mass", "count"]
MOST_RESIDENT = 64 * 2**20
SHEET = "xl/worksheets/sheet1.xml"
GOOD = [datetime(2026, 5, 4, 9, 30), "Corner shop", "PET", "4.31 kg", 3]


def packed(book: openpyxl.Workbook) -> bytes:
    paper = io.BytesIO()
    book.save(paper)
    return paper.getvalue()


def book_of(*rows, heads=HEADS) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    for row in (heads, *rows):
        book.active.append(row)
    return book


def changed(data: bytes, member: str, change) -> bytes:
    """Give the file with one member's text changed."""
    paper = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(paper, "w", 8) as new:
        for name in old.namelist():
            text = old.read(name)
            new.writestr(name, change(text.decode()).encode() if name == member else text)
    return paper.getvalue()


def named(data: bytes) -> list[tuple[str, str]]:
    """Code and pointer of each thing that is said against a file, read in this process."""
    return [(one["code"], one["pointer"]) for one in read_here(data, ZONE).get("problems", [])]


def test_numbers_dates_words_and_stored_results_are_read():
    book = book_of(GOOD, [], ["2026-05-04T09:30+02:00", 12, "PET", "=D2", 5.0])
    was, now = '<c r="D4"><f>D2</f><v></v>', '<c r="D4" t="str"><f>D2</f><v>2 kg</v>'
    data = changed(packed(book), SHEET, lambda xml: xml.replace(was, now))
    text = spreadsheet_text(data, ZONE)
    assert text.splitlines() == [
        "at,source,polymer,mass,count",
        "2026-05-04T09:30:00+01:00,Corner shop,PET,4.31 kg,3",
        "",
        "2026-05-04T09:30+02:00,12,PET,2 kg,5",
    ]
    entries, wrong = read_rows(text, ZONE)
    assert [one.place for one in entries] == [2, 4] and not wrong


def test_a_clock_that_says_one_time_twice_is_not_guessed():
    """Lisbon's clocks go back on 2026-10-25 and forward on 2026-03-29 (IANA zone data)."""
    rows = [[at, *GOOD[1:]] for at in (datetime(2026, 10, 25, 1, 30), datetime(2026, 3, 29, 1, 30))]
    _entries, wrong = read_rows(read_here(packed(book_of(*rows)), ZONE)["text"], ZONE)
    assert [(one.pointer, one.code) for one in wrong] == [
        ("/2/at", "time-without-offset"),
        ("/3/at", "time-without-offset"),
    ]


@pytest.mark.parametrize(
    "typed, meant",
    [
        ("2026-07-04 09:30", "2026-07-04T08:30:00+00:00"),
        ("2026-01-04T09:30", "2026-01-04T09:30:00+00:00"),
        ("2026-07-04T09:30+05:30", "2026-07-04T04:00:00+00:00"),
        ("2026-10-25T01:30+00:00", "2026-10-25T01:30:00+00:00"),
    ],
)
def test_a_text_without_offset_is_by_the_clock_of_the_workshop(typed, meant):
    """Lisbon is one hour ahead of UTC in summer (IANA zone data)."""
    (one,), wrong = read_rows(f"at,source,polymer,mass\n{typed},Shop,PET,1 kg\n", ZONE)
    assert not wrong and one.entry.happened_at == datetime.fromisoformat(meant)


def test_dates_of_both_epochs_are_the_same_day():
    """The two date systems of ECMA-376 part 1, 18.17.4.1: 1900 and 1904."""
    for epoch in (openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH):
        book = openpyxl.Workbook()
        book.epoch = epoch
        book.active.append(HEADS)
        book.active.append([date(2026, 5, 4), *GOOD[1:]])
        assert "\n2026-05-04T00:00:00+01:00," in read_here(packed(book), ZONE)["text"]


def test_merged_cells_errors_and_formulas_without_a_result_are_named():
    book = book_of(GOOD, GOOD, GOOD, GOOD)
    book.active.merge_cells("B2:B3")
    book.active["C4"] = "#REF!"
    book.active["E5"] = "=1+2"
    assert named(packed(book)) == [
        ("cells-merged", "/2/source"),
        ("cell-unreadable", "/4/polymer"),
        ("formula-without-value", "/5/count"),
    ]


@pytest.mark.parametrize(
    ("was", "now", "code"),
    [
        (r'(<c r="E3"[^>]*>)<v>3</v>', r"\1<v>1e999</v>", "cell-unreadable"),
        (r'(<c r="E3"[^>]*>)<v>3</v>', r"\1<v>nan</v>", "cell-unreadable"),
        (r'(<c r="E3"[^>]*>)<v>3</v>', r"\1<v>three</v>", "cell-unreadable"),
        (r'<c r="E3"[^>]*>', '<c r="E3" t="s">', "cell-unreadable"),
        (r'<c r="E3"[^>]*><v>3<', '<c r="E3" t="s"><v>99999<', "cell-unreadable"),
        (r'<c r="E3"[^>]*><v>3<', '<c r="E3" t="s"><v>-x<', "cell-unreadable"),
        (r'<c r="E3"', '<c r="E3" s="999999"', ""),
        (r'<c r="E3"', '<c r="D3"', "cell-unreadable"),
        (r'<row r="3"', '<row r="2"', "row-unreadable"),
        (r'<row r="3"', '<row r="1048576"', "too-many-rows"),
        (r'<c r="E3"', '<c r="XFD3"', "row-too-long"),
    ],
)
def test_a_damaged_cell_is_named(was, now, code):
    data = changed(packed(book_of(GOOD, GOOD)), SHEET, lambda xml: re.sub(was, now, xml, count=1))
    said = named(data)
    if not code:
        assert said == [] and "text" in read_here(data, ZONE)
        return
    ((found, pointer),) = said
    row = {"too-many-rows": "1048576", "row-unreadable": "2"}.get(code, "3")
    assert found == code and pointer.split("/")[1] == row


def test_words_that_are_kept_once_for_the_whole_book_are_read():
    """As other writers do it: cells point into a table of shared strings."""
    paper = io.BytesIO()
    book = xlsxwriter.Workbook(paper, {"in_memory": True})
    sheet, day = book.add_worksheet("List"), book.add_format({"num_format": "dd.mm.yyyy hh:mm"})
    sheet.write_row(0, 0, HEADS)
    sheet.write_datetime(1, 0, GOOD[0], day)
    sheet.write_row(1, 1, GOOD[1:])
    sheet.write_formula(2, 3, "=D2", None, "4.31 kg")
    book.close()
    assert read_here(paper.getvalue(), ZONE)["text"].splitlines()[1:] == [
        "2026-05-04T09:30:00+01:00,Corner shop,PET,4.31 kg,3",
        ",,,4.31 kg",
    ]


def test_times_alone_are_no_moments():
    text = read_here(packed(book_of([time(9, 30), *GOOD[1:]])), ZONE)["text"]
    assert [one.pointer for one in read_rows(text, ZONE)[1]] == ["/2/at"]


def test_the_sheet_with_the_heads_is_read_and_two_are_not_guessed_between():
    book = openpyxl.Workbook()
    book.active.append(["What we know"])
    list_sheet = book.create_sheet("List")
    list_sheet.append(HEADS)
    list_sheet.append(GOOD)
    assert "Corner shop" in read_here(packed(book), ZONE)["text"]
    book.create_sheet("More").append(HEADS)
    assert named(packed(book)) == [("sheets-several", "/text")]


def test_five_thousand_equal_rows_are_no_bomb_and_one_more_is_too_many():
    book = book_of(*([GOOD] * 5_000))
    assert read_here(packed(book), ZONE)["text"].count("\n") == 5_001
    book.active.append(GOOD)
    assert named(packed(book)) == [("too-many-rows", "/5002")]


def zipped(**members: bytes) -> bytes:
    paper = io.BytesIO()
    with zipfile.ZipFile(paper, "w", zipfile.ZIP_DEFLATED) as new:
        for name, text in members.items():
            new.writestr(name, text)
    return paper.getvalue()


def overlapping() -> bytes:
    """Say of every member that it is the same packed bytes, as bombs do."""
    data = bytearray(zipped(**{f"m{n:03}": os.urandom(2_000) for n in range(60)}))
    first = data.index(b"PK\x01\x02")
    at = first
    while (at := data.find(b"PK\x01\x02", at)) >= 0:
        data[at + 20 : at + 24] = (60_000).to_bytes(4, "little")
        at += 4
    return bytes(data)


def claimed(data: bytes, size: int) -> bytes:
    """Let the table of members say another unpacked size of its largest member."""
    changed_data, at = bytearray(data), data.rindex(b"PK\x01\x02")
    changed_data[at + 24 : at + 28] = size.to_bytes(4, "little")
    return bytes(changed_data)


BOMBS = {
    "zeros": lambda: zipped(bomb=bytes(60 * 2**20)),
    "many members": lambda: zipped(**{f"m{n}": b"" for n in range(500)}),
    "ratio": lambda: zipped(bomb=bytes(4 * 2**20)),
    "one packed text many times": overlapping,
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_before_it_is_unpacked(name, monkeypatch):
    def unpacked(*_given, **_named):
        raise AssertionError("unpacked")

    bomb = BOMBS[name]()
    monkeypatch.setattr(zipfile.ZipFile, "open", unpacked)
    with pytest.raises(Refused) as refused:
        check_unpacked(bomb)
    assert refused.value.problems[0].code == "spreadsheet-too-large"


def entities(xml: str) -> str:
    """A text that doubles itself, level by level."""
    lines = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "lol" * 10}">' for n in range(9))
    return f'<?xml version="1.0"?><!DOCTYPE worksheet [{lines}]>' + xml.partition("?>")[2].replace(
        "<sheetData>", "<sheetData><row r='1'><c t='str'><v>&a8;</v></c></row>"
    )


def inside() -> dict[str, bytes]:
    """Files within the limits of size that would cost far more when they are read."""
    good = packed(book_of(GOOD))
    chance = random.Random(8)
    tags = "".join(f'<c s="{chance.randrange(10**6)}"/>' for _ in range(900_000))
    deep = "".join(f'<a b="{chance.randrange(10**6)}">' for _ in range(800_000))
    return {
        "entities": changed(good, SHEET, entities),
        "no sizes told": claimed(zipped(**{"xl/workbook.xml": bytes(200 * 2**20)}), 1_000),
        "many small cells": changed(
            good,
            SHEET,
            lambda xml: xml.replace("</sheetData>", f"<row r='9'>{tags}</row></sheetData>"),
        ),
        "deep": changed(
            good, SHEET, lambda xml: xml.replace("</sheetData>", f"{deep}</sheetData>")
        ),
    }


MEASURE = """
import resource, sys
from pathlib import Path
from recycling.tables.lists.spreadsheets import spreadsheet_text
from shared.errors import Refused
try:
    print("read", len(spreadsheet_text(Path(sys.argv[1]).read_bytes(), "Europe/Lisbon")))
except Refused as refused:
    print(refused.problems[0].code)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024)
"""


@pytest.mark.slow
def test_what_costs_more_than_it_says_stays_within_its_process(tmp_path):
    """Measured by the operating system: the largest resident memory of the process that reads."""
    for name, data in inside().items():
        file = tmp_path / "bomb.xlsx"
        file.write_bytes(data)
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, str(file)],
            cwd=spreadsheets.ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        said, most = done.stdout.split()
        assert said.startswith("spreadsheet-"), (name, said)
        assert int(most) <= MOST_RESIDENT, (name, most)


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"PK\x03\x04" + bytes(200), b"\x89PNG"])
def test_what_is_none_is_refused(data):
    with pytest.raises(Refused) as refused:
        spreadsheet_text(data, ZONE)
    assert refused.value.problems[0].code == "spreadsheet-unreadable"
