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
from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal

import openpyxl
import pytest
import xlsxwriter

from recycling.tables.lists import spreadsheets
from recycling.tables.lists.asking import Asking
from recycling.tables.lists.cells import Clock, Stored, Unread, sheets_again, shown
from recycling.tables.lists.known import Known
from recycling.tables.lists.reading import read_sheets, sheets_of_text
from recycling.tables.lists.spreadsheets import check_unpacked, read_here, spreadsheet_sheets
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


KNOWN = Known(ZONE, sources=("Corner shop", "Shop", "12"), polymers=(("PET", "", 1),))


def cells_of(data: bytes) -> list[list[str]]:
    """What stands in the first sheet of a file, read in this process."""
    (sheet, *_more) = sheets_again(read_here(data)["sheets"])
    return [[shown(cell) for cell in row.cells] for row in sheet.rows]


def read(data: bytes):
    """Read a file as a list, in this process."""
    return read_sheets(sheets_again(read_here(data)["sheets"]), KNOWN, Asking())


def named(data: bytes) -> list[tuple[str, str]]:
    """Code and pointer of each thing that is said against a file, read in this process."""
    said = read_here(data)
    if "problems" in said:
        return [(one["code"], one["pointer"]) for one in said["problems"]]
    return [(one.code, one.pointer) for one in read(data).asking.found.problems]


def test_numbers_dates_words_and_stored_results_are_read():
    book = book_of(GOOD, [], ["2026-05-04T09:30+02:00", 12, "PET", "=D2", 5.0])
    was, now = '<c r="D4"><f>D2</f><v></v>', '<c r="D4" t="str"><f>D2</f><v>2 kg</v>'
    data = changed(packed(book), SHEET, lambda xml: xml.replace(was, now))
    assert cells_of(data) == [
        ["at", "source", "polymer", "mass", "count"],
        ["2026-05-04 09:30", "Corner shop", "PET", "4.31 kg", "3"],
        [],
        ["2026-05-04T09:30+02:00", "12", "PET", "2 kg", "5"],
    ]
    found = read(data)
    assert [(one.number, one.source, one.mass_mg) for one in found.rows] == [
        (2, "Corner shop", 4_310_000),
        (4, "12", 2_000_000),
    ]
    assert found.rows[1].at == datetime.fromisoformat("2026-05-04T07:30+00:00")


def test_a_clock_that_says_one_time_twice_is_not_guessed():
    """Lisbon's clocks go back on 2026-10-25 and forward on 2026-03-29 (IANA zone data)."""
    rows = [[at, *GOOD[1:]] for at in (datetime(2026, 10, 25, 1, 30), datetime(2026, 3, 29, 1, 30))]
    assert named(packed(book_of(*rows))) == [
        ("time-without-offset", "/2/at"),
        ("time-without-offset", "/3/at"),
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
    data = f"at,source,polymer,mass\n{typed},Shop,PET,1 kg\n".encode()
    sheets = sheets_of_text(data, KNOWN, Asking(), lambda: None)
    (row,) = read_sheets(sheets, KNOWN, Asking()).rows
    assert row.timed and row.at == datetime.fromisoformat(meant)


def test_dates_of_both_epochs_are_the_same_day():
    """The two date systems of ECMA-376 part 1, 18.17.4.1: 1900 and 1904."""
    for epoch in (openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH):
        book = openpyxl.Workbook()
        book.epoch = epoch
        book.active.append(HEADS)
        book.active.append([date(2026, 5, 4), *GOOD[1:]])
        assert cells_of(packed(book))[1][0] == "2026-05-04"


def test_errors_and_formulas_without_a_result_are_named_and_so_is_what_is_merged_across():
    book = book_of(GOOD, GOOD, GOOD, GOOD)
    book.active.merge_cells("B2:C2")
    book.active["C4"] = "#REF!"
    book.active["E5"] = "=1+2"
    assert [one for one in named(packed(book)) if one[1] != "/2/polymer"] == [
        ("cells-merged", "/2/source"),
        ("cell-unreadable", "/4/polymer"),
        ("formula-without-value", "/5/count"),
    ]


def test_what_is_merged_down_a_column_is_asked_about_as_what_is_left_empty():
    book = book_of(GOOD, GOOD, GOOD)
    book.active.merge_cells("B2:B3")
    assert [one.about for one in read(packed(book)).asking.questions.values()] == ["fill"]


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
        assert said == [] and "sheets" in read_here(data)
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
    assert cells_of(paper.getvalue())[1:] == [
        ["2026-05-04 09:30", "Corner shop", "PET", "4.31 kg", "3"],
        ["", "", "", "4.31 kg"],
    ]


def test_times_alone_are_no_moments():
    assert named(packed(book_of([time(9, 30), *GOOD[1:]]))) == [("time-unreadable", "/2/at")]


def test_the_sheet_with_the_heads_is_read_and_two_are_not_guessed_between():
    book = openpyxl.Workbook()
    book.active.append(["What we know"])
    list_sheet = book.create_sheet("List")
    list_sheet.append(HEADS)
    list_sheet.append(GOOD)
    assert [one.source for one in read(packed(book)).rows] == ["Corner shop"]
    more = book.create_sheet("More")
    more.append(HEADS)
    assert read(packed(book)).rows, "a sheet with heads alone holds no list"
    more.append(GOOD)
    (question,) = read(packed(book)).asking.questions.values()
    assert question.about == "sheet"
    assert [one.key for one in question.choices] == ["List", "More", "+all"]


def test_a_unit_of_a_number_format_is_read_and_rows_that_are_hidden_are_marked():
    book = book_of([datetime(2026, 5, 4), "Corner shop", "PET", 4.31, 3], GOOD)
    book.active["D2"].number_format = '0.00" kg"'
    book.active.row_dimensions[3].hidden = True
    (sheet,) = sheets_again(read_here(packed(book))["sheets"])
    assert sheet.rows[1].cells[3] == Stored(Decimal("4.31"), "kg")
    assert sheet.rows[1].cells[0] == Clock(datetime(2026, 5, 4), False)
    assert [row.hidden for row in sheet.rows] == [False, False, True]


OPEN_CELLS = """<table:table-row>{0}</table:table-row>
<table:table-row table:visibility="filter"><table:table-cell office:value-type="date"
 office:date-value="2026-05-04T09:30:00"/><table:table-cell table:number-columns-repeated="2"
 office:value-type="string"><text:p>Corner<text:s/>shop</text:p></table:table-cell>
<table:table-cell table:style-name="mass" office:value-type="float" office:value="4.31"/>
<table:table-cell office:value-type="error"/></table:table-row>
<table:table-row table:number-rows-repeated="1000000"><table:table-cell
 table:number-columns-repeated="1000"/></table:table-row>"""
OPEN = """<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x" xmlns:style="s"
 xmlns:number="n"><office:automatic-styles><number:number-style style:name="N1"><number:number/>
<number:text> kg</number:text></number:number-style><style:style style:name="mass"
 style:data-style-name="N1"/></office:automatic-styles><office:body><office:spreadsheet>
<table:table table:name="May">{0}</table:table></office:spreadsheet></office:body>
</office:document-content>"""


def test_an_open_document_is_read_with_what_is_repeated_hidden_and_its_formats():
    """Elements and attributes as OpenDocument 1.3, part 3, has them."""
    heads = "".join(f'<table:table-cell office:value-type="string"><text:p>{one}</text:p>'
                    "</table:table-cell>" for one in HEADS)  # fmt: skip
    data = zipped(**{"content.xml": OPEN.format(OPEN_CELLS.format(heads)).encode()})
    (sheet,) = sheets_again(read_here(data)["sheets"])
    assert [row.hidden for row in sheet.rows] == [False, True]
    assert sheet.rows[1].cells == [
        Clock(datetime(2026, 5, 4, 9, 30), True),
        "Corner shop",
        "Corner shop",
        Stored(Decimal("4.31"), "kg"),
        Unread("cell-unreadable"),
    ]


def test_many_equal_rows_are_no_bomb_and_too_many_are_named():
    book = book_of(*([GOOD] * 3_000))
    assert len(cells_of(packed(book))) == 3_001
    far = changed(packed(book), SHEET, lambda xml: xml.replace('r="3001"', 'r="60100"'))
    assert named(far) == [("too-many-rows", "/60100")]


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
    "zeros": lambda: zipped(bomb=bytes(120 * 2**20)),
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
    tags = "".join(f'<c s="{chance.randrange(10**6)}"/>' for _ in range(3_200_000))
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
from recycling.tables.lists.spreadsheets import spreadsheet_sheets
from shared.errors import Refused
try:
    print("read", len(spreadsheet_sheets(Path(sys.argv[1]).read_bytes())))
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
        spreadsheet_sheets(data)
    assert refused.value.problems[0].code == "spreadsheet-unreadable"


def test_a_date_to_come_and_one_before_2000_are_asked_about_once_each():
    """Two rows are of the year to come: one question, and such rows may be left out."""
    days = [f"2026-0{month}-04" for month in range(1, 6)] + ["2027-01-04", "2027-02-04"]
    lines = [f"{day};Shop;PET;{place + 1},5" for place, day in enumerate([*days, "1999-05-04"])]
    data = "\n".join(["Date;Giver;Polymer;kg", *lines]).encode()
    known = replace(KNOWN, now=datetime(2026, 6, 1, tzinfo=UTC))

    def asking(**answers: str) -> Asking:
        own = Asking({"far": "right", **answers})
        read_sheets(sheets_of_text(data, known, own, lambda: None), known, own)
        return own

    first = asking()
    assert [(one.key, one.row) for one in first.questions.values()] == [
        ("to-come", 7),
        ("before-2000", 9),
    ]
    assert not first.found.problems
    answered = asking(**{"to-come": "leave", "before-2000": "right"})
    assert not answered.questions and set(answered.skipped) == {7, 8}
