"""Every file of a report, read back with another library: all say the same, to the milligram.

Sources
-------
.. [1] ISO 19005-3:2012, 6.6.4: the XMP properties by which a PDF/A-3 names itself.
.. [2] ISO 14289-1:2014, 5: the XMP property by which a PDF/UA names itself; 7.1 tags, 7.2 language.
.. [3] OWASP, CSV Injection: the characters that make a spreadsheet run a cell.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import subprocess
import sys
import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import pikepdf
import pytest

from recycling.records.reports.documents import Column, Section, Table
from recycling.records.reports.files import FILES
from recycling.reports.frozen_files import files_of
from recycling.reports.words import file_words
from recycling.tables.csv_text import STARTS_A_FORMULA
from recycling.tables.reports.csv_file import table_csv
from recycling.tables.reports.html_file import json_in
from recycling.tables.reports.json_file import digest_of_text, json_of, read_report
from recycling.tables.reports.text import MOST_ROWS, set_table
from tests.reports.paper_text import text_of
from tests.reports.sample import MONTHS, report, with_text

ROOT = Path(__file__).resolve().parents[2]
BODY = json_of(report())
PAYLOADS = (
    "=1+1",
    "+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1:A2)",
    "\t=1+1",
    "\r=1+1",
    '=HYPERLINK("http://example.org","x")',
    "{=1+1}",
    "http://example.org/x",
    "  =1+1",
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '#eval("1") $x$ *bold* `raw` @ref <label> \\u{41} // c',
    "\\u003c",
    "日本 عربي 🎉",
)


@pytest.fixture(scope="module")
def files():
    return files_of(BODY)


def masses() -> list[tuple[str, int]]:
    """List every mass of the sample with the table or fact it stands in, in mg."""
    held = json.loads(BODY)["document"]
    found = []
    for section in held["sections"]:
        found += [("", one["value"]) for one in section["facts"] if one["kind"] == "mass"]
        for table in section["tables"]:
            rows = table["rows"] + ([table["total"]] if table["total"] else [])
            for place, column in enumerate(table["columns"]):
                if column["kind"] == "mass":
                    found += [(table["key"], row[place]) for row in rows]
    return found


def test_there_are_enough_masses_to_compare():
    assert len(masses()) == 15
    assert {mass % 1_000 for _, mass in masses()} > {0, 1, 499}


def test_the_json_reads_back_equal_and_is_canonical():
    assert read_report(BODY) == report()
    assert json_of(read_report(BODY)) == BODY
    shuffled = json.dumps(dict(reversed(json.loads(BODY).items())), indent=2)
    assert json_of(read_report(shuffled)) == BODY
    assert '": ' not in BODY and '", "' not in BODY and BODY.startswith('{"document":')


@pytest.mark.parametrize("text", ["{}", "[]", '"x"', BODY.replace('"version":1', '"version":2')])
def test_what_is_no_report_is_refused(text):
    with pytest.raises(ValueError, match="this is"):
        read_report(text)


def test_no_figure_that_is_no_number_is_frozen():
    facts = report().document.sections[0].facts
    broken = report(
        sections=(
            type(report().document.sections[0])(
                "x", "X", facts=(type(facts[0])("x", "X", float("nan"), "number"),)
            ),
        )
    )
    with pytest.raises(ValueError, match="JSON compliant"):
        json_of(broken)


def test_the_long_csv_has_every_mass_in_milligrams(files):
    rows = list(csv.DictReader(io.StringIO(files["csv"].decode("utf-8-sig"))))
    found = sorted(
        (row["table"], int(row["value"]))
        for row in rows
        if row["unit"] == "mg" and row["column"] != "standard_uncertainty"
    )
    assert found == sorted(masses())
    says = {row["row"]: row["value"] for row in rows if row["section"] == "report"}
    assert says["code"] == "D3-8" and says["sha256"] == digest_of_text(BODY)


def test_a_table_alone_has_its_masses_in_kilograms():
    rows = list(csv.reader(io.StringIO(table_csv(MONTHS)[1:])))
    assert rows[0][2:] == ["Spooled, kg", "Energy, kWh", "Energy for each kilogram, kWh/kg"]
    assert [row[2] for row in rows[1:]] == ["120.000000", "0.000000", "250.011000", "370.011000"]
    assert rows[2][3] == ""


def test_a_spreadsheet_names_this_project_as_its_application(files):
    with zipfile.ZipFile(io.BytesIO(files["xlsx"])) as book:
        said = book.read("docProps/app.xml").decode()
    assert "<Application>Regrind Ledger</Application>" in said
    assert "Microsoft" not in said and "<AppVersion>" not in said


def test_the_spreadsheet_has_every_mass_as_a_number(files):
    book = openpyxl.load_workbook(io.BytesIO(files["xlsx"]))
    found = []
    for sheet in book:
        heads = {cell.column: str(cell.value) for cell in sheet[3] if cell.value}
        for row in sheet.iter_rows(min_row=4):
            units = [cell.value for cell in row]
            for cell in row:
                of_mass = heads.get(cell.column, "").split(" (")[0].endswith(", kg")
                fact = sheet.title == "Figures" and cell.column == 3 and units[3] == "kg"
                if (of_mass or fact) and cell.value is not None:
                    assert cell.data_type == "n"
                    exact = cell.value * 1_000_000
                    assert abs(exact - round(exact)) < 1e-3
                    found.append(("" if fact else sheet.title, round(exact)))
    assert sorted(found) == sorted(masses())
    begins = book["months"]["B4"].value
    assert begins == datetime(2026, 1, 1)
    first = {row[0].value: row[1].value for row in book.worksheets[0].iter_rows() if row[1].value}
    assert first["SHA-256 of the figures"] == digest_of_text(BODY)
    assert first["Report"] == "D3-8"
    assert [sheet.title for sheet in book] == [
        *("Contents", "Figures", "statement", "flows", "months", "What the words mean")
    ]
    assert book["What the words mean"]["A4"].value == "yield"


def test_the_pdf_prints_every_mass_and_holds_the_json(files):
    with pikepdf.open(io.BytesIO(files["pdf"])) as pdf:
        assert pdf.attachments["D3-8.json"].get_file().read_bytes() == BODY.encode()
        assert pdf.Root.AF[0].AFRelationship == "/Data"
        printed = text_of(pdf)
    for key, mass_mg in masses():
        whole = f"{abs(mass_mg) / 1e6:.6f}"
        short = whole if key in ("", "statement", "flows") else whole[:-3]
        assert f"{'−' if mass_mg < 0 else ''}{short}" in printed, (key, mass_mg)
    assert digest_of_text(BODY) in printed


def test_the_pdf_says_what_it_was_made_to(files):
    with pikepdf.open(io.BytesIO(files["pdf"])) as pdf:
        with pdf.open_metadata() as said:
            assert (said["pdfaid:part"], said["pdfaid:conformance"]) == ("3", "A")
            assert said["pdfuaid:part"] == "1"
            assert said["dc:title"] == "Spring at the tide mill"
            assert said["dc:creator"] == ["Tide mill workshop"]
            assert digest_of_text(BODY) in said["pdf:Keywords"]
        assert str(pdf.Root.Lang) == "en"
        assert pdf.Root.MarkInfo.Marked and pdf.Root.ViewerPreferences.DisplayDocTitle
        roles, alts = elements(pdf.Root.StructTreeRoot)
    assert {"/H1", "/Table", "/TH", "/TD", "/Figure", "/Caption"} <= set(roles)
    drawn = [one.alt for part in report().document.sections for one in part.drawings]
    assert sorted(alts) == sorted(drawn)


def elements(node: pikepdf.Object) -> tuple[list[str], list[str]]:
    """List the roles of a tagged PDF's elements, and the alternative texts of its figures."""
    roles, alts, waiting = [], [], [node]
    while waiting:
        one = waiting.pop()
        if not isinstance(one, pikepdf.Dictionary):
            continue
        roles.append(str(one.get("/S", "")))
        if "/Alt" in one:
            alts.append(str(one.Alt))
        kids = one.get("/K", [])
        waiting += list(kids) if isinstance(kids, pikepdf.Array) else [kids]
    return roles, alts


def test_the_page_holds_the_json_and_no_address(files):
    page = files["html"].decode()
    assert json_in(page) == BODY
    assert 'lang="en"' in page and digest_of_text(BODY) in page
    assert "<dt>Reported by</dt><dd>Tide mill workshop</dd>" in page
    for reaching in ("src=", "href=", "url(http", "@import"):
        assert reaching not in page.partition('<script id="figures"')[0]


@pytest.mark.parametrize("payload", PAYLOADS)
def test_no_text_becomes_a_formula_a_link_or_markup(payload):
    body = json_of(with_text(payload))
    made = files_of(body)
    with zipfile.ZipFile(io.BytesIO(made["xlsx"])) as packed:
        for name in packed.namelist():
            part = packed.read(name).decode()
            assert "<f>" not in part and "<f " not in part and "<hyperlinks" not in part
    for row in csv.reader(io.StringIO(made["csv"].decode("utf-8-sig"), newline="")):
        for cell in row:
            assert not cell.lstrip(" ").startswith(STARTS_A_FORMULA), cell
    page = made["html"].decode()
    assert json_in(page) == body
    assert "<script>alert" not in page and "<img" not in page
    with pikepdf.open(io.BytesIO(made["pdf"])) as pdf:
        assert next(iter(pdf.attachments.values())).get_file().read_bytes() == body.encode()


def test_letters_that_the_fonts_lack_stand_as_boxes_and_that_is_said():
    with pikepdf.open(io.BytesIO(files_of(json_of(with_text("日本")))["pdf"])) as pdf:
        printed = text_of(pdf)
    assert "□□" in printed and "A box stands for a letter" in printed
    with pikepdf.open(io.BytesIO(files_of(json_of(with_text("Grüße, мир")))["pdf"])) as pdf:
        printed = text_of(pdf).replace("\n", "")
    assert "Grüße, мир" in printed and "A box" not in printed


def test_equal_data_give_equal_bytes_in_another_process_and_time_zone():
    here = {kind: hashlib.sha256(made).hexdigest() for kind, made in files_of(BODY).items()}
    code = (
        "import django, hashlib, json, sys; django.setup();"
        "from recycling.reports.frozen_files import files_of;"
        "print(json.dumps({k: hashlib.sha256(v).hexdigest()"
        " for k, v in files_of(sys.stdin.read()).items()}))"
    )
    there = subprocess.run(
        [sys.executable, "-c", code],
        input=BODY.encode(),
        capture_output=True,
        check=True,
        cwd=ROOT,
        env=os.environ
        | {"DJANGO_SETTINGS_MODULE": "recycling.settings", "TZ": "Asia/Kolkata"}
        | {"PYTHONHASHSEED": "77", "LC_ALL": "C"},
    )
    assert json.loads(there.stdout) == here
    assert set(here) == set(FILES)


def test_one_milligram_more_changes_every_file(files):
    other = files_of(BODY.replace("412600001", "412600002"))
    assert [kind for kind in FILES if files[kind] == other[kind]] == []


def test_a_long_table_is_cut_where_it_is_read_and_whole_where_it_is_worked_with():
    rows = tuple((f"row {number:03}", 1_000_000 * number + 1) for number in range(1, 201))
    columns = (Column("what", "What", "text"), Column("mass_mg", "Mass", "mass"))
    total = ("All", sum(row[1] for row in rows))
    table = Table("long", "Long", columns, rows, total)
    body = json_of(report(sections=(Section("long", "Long", tables=(table,)),)))
    made = files_of(body)
    with pikepdf.open(io.BytesIO(made["pdf"])) as pdf:
        printed = text_of(pdf)
    page = made["html"].decode().partition('<script id="figures"')[0]
    for read in (printed, page):
        assert [number for number in range(1, 201) if f"row {number:03}" in read] == [
            *range(1, MOST_ROWS + 1)
        ]
        assert f"{200 - MOST_ROWS} more rows" in read.replace("\n", " ")
        assert "20\u202f100.000200" in read
    sheet = openpyxl.load_workbook(io.BytesIO(made["xlsx"]))["long"]
    assert [row[0].value for row in sheet.iter_rows(min_row=4)] == [
        *(row[0] for row in rows),
        "All",
    ]
    for row in rows:
        assert f",{row[1]}," in made["csv"].decode() and f'["{row[0]}",{row[1]}]' in body
    assert read_report(body).document.sections[0].tables[0] == table


def test_a_table_that_fits_is_set_wholly():
    words = file_words("en")
    columns = (Column("what", "What", "text"),)
    for count, more in ((0, ""), (MOST_ROWS, ""), (MOST_ROWS + 1, "1 more")):
        found = set_table(Table("t", "T", columns, (("x",),) * count), words)
        assert len(found.rows) == min(count, MOST_ROWS)
        assert (more in found.more) if more else found.more == ""
