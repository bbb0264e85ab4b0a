"""A workshop whose every text is strange: it shows on every page, and no paper or file fails."""

from __future__ import annotations

import io
import json
import re
from datetime import UTC, date, datetime
from html import unescape

import openpyxl
import pikepdf
import pytest
from django.test import Client
from django.urls import resolve

from recycling.figures.label_sheets import SHEETS
from recycling.models import Job, Report, User
from recycling.queries.exchange.exports import exported
from recycling.queries.labels.files import labels_as_pdf, labels_page_as_svg, lot_label_as_svg
from recycling.queries.lots.lots import LotFilter, lots_page
from recycling.queries.people.members import person
from recycling.records.actors import Actor
from recycling.records.exchange.exports import ExportWanted
from recycling.records.integrity import ArchiveEntry
from recycling.records.labels.labels import LabelPrint
from recycling.records.reports.rows import ReportEntry
from recycling.reports.frozen_files import files_of
from recycling.services.integrity.archive_make import TASK as ARCHIVE
from recycling.services.integrity.archive_make import archive_ask, archive_make
from recycling.services.reports.ask import TASK as REPORT
from recycling.services.reports.ask import report_ask
from recycling.services.reports.make import report_make
from recycling.tables.exchange.epcis import epcis_lines
from recycling.tables.exchange.prov import prov_lines
from recycling.tables.reports.json_file import json_of, read_report
from tests.nasty import ENDS_OF_LINES, KEPT, REFUSED, make_nasty
from tests.reports.paper_text import text_of
from tests.reports.sample import with_text
from tests.web.reading.small_book import Book, open_workshop

OLD = {name: text for name, text in {**REFUSED, **ENDS_OF_LINES}.items() if name != "null"}
"""What books from before the rule may hold; no database ever took a null in all of its fields."""
LEAST_TEXTS = 60
SLOW = pytest.mark.slow
OF_NOW_AND_BEFORE = [
    pytest.param(KEPT, id="kept"),
    pytest.param(OLD, id="from before the rule", marks=SLOW),
]


@pytest.fixture
def book(db, tmp_path, settings) -> Book:
    settings.DATA_DIR = tmp_path
    return Book(open_workshop(), datetime(2026, 3, 2, 8, tzinfo=UTC)).record()


def as_it_is_now(book: Book) -> Actor:
    user = User.objects.get(memberships__pk=book.actor.member_id)
    (actor,) = person(user.pk).actors
    return actor


@pytest.mark.parametrize("name", [*KEPT, *(pytest.param(name, marks=SLOW) for name in OLD)])
def test_every_file_of_a_report_is_made_whatever_stands_in_it(name):
    text = {**KEPT, **OLD}[name]
    body = json_of(with_text(text))
    made = files_of(body)
    with pikepdf.open(io.BytesIO(made["pdf"])) as pdf:
        assert text_of(pdf).strip()
        assert next(iter(pdf.attachments.values())).get_file().read_bytes() == body.encode()
    cells = [
        cell
        for sheet in openpyxl.load_workbook(io.BytesIO(made["xlsx"]))
        for row in sheet.iter_rows(values_only=True)
        for cell in row
        if isinstance(cell, str)
    ]
    assert name not in KEPT or text in cells
    assert json.loads(made["json"])


@pytest.mark.parametrize(
    ("name", "boxes"),
    [("a family", 1), ("not yet assigned", 2), ("private icons", 2), ("many letters of many", 40)],
)
def test_what_the_fonts_lack_is_a_box_and_the_paper_says_so(name, boxes):
    text = KEPT[name]
    with pikepdf.open(io.BytesIO(files_of(json_of(with_text(text)))["pdf"])) as pdf:
        printed = text_of(pdf)
    assert "A box stands for a letter" in printed
    assert "□" * boxes in re.sub(r"[^□]", "", printed)
    assert all(letter in printed for letter in text if letter.isascii() and letter.isalpha())


@pytest.mark.slow
@pytest.mark.parametrize("texts", OF_NOW_AND_BEFORE)
def test_a_workshop_of_strange_texts_has_its_papers_and_files(book, texts):
    assert make_nasty(texts.values()) >= LEAST_TEXTS
    actor = as_it_is_now(book)
    code = report_ask(actor, ReportEntry(date(2026, 1, 1), date(2026, 12, 31)))
    report_make(Job.objects.filter(task=REPORT).latest("pk").pk)
    report = Report.objects.get(code=code)
    assert report.state == Report.READY, report.failure
    assert set(files_of(report.frozen.body)) >= {"pdf", "xlsx", "csv", "html", "json"}
    assert read_report(report.frozen.body).document.workshop == actor.workshop

    codes = [lot.code for lot in lots_page(actor, LotFilter(), "", 10).rows]
    for sheet in SHEETS:
        with pikepdf.open(io.BytesIO(labels_as_pdf(actor, codes, LabelPrint(sheet)))) as pdf:
            assert len(pdf.pages) >= 1
        assert labels_page_as_svg(actor, codes, LabelPrint(sheet)).startswith(b"<svg")
        assert lot_label_as_svg(actor, codes[0], sheet).startswith(b"<svg")

    found = exported(actor, ExportWanted())
    assert json.loads("".join(epcis_lines(found)))["type"] == "EPCISDocument"
    assert json.loads("".join(prov_lines(found)))["entity"]
    archive_ask(actor, ArchiveEntry(people=True))
    assert archive_make(Job.objects.filter(task=ARCHIVE).latest("pk").pk)


@pytest.mark.slow
@pytest.mark.parametrize("texts", OF_NOW_AND_BEFORE)
def test_strange_texts_show_on_every_page(book, texts):
    make_nasty(texts.values())
    client = Client()
    client.force_login(User.objects.get(memberships__pk=book.actor.member_id))
    waiting, seen, shown = [f"/w/{book.actor.slug}/"], set(), 0
    for address in waiting:
        url_name = resolve(address.partition("?")[0]).url_name
        if url_name in seen or len(seen) > 120:
            continue
        seen.add(url_name)
        answer = client.get(address)
        assert answer.status_code < 500, address
        if answer.status_code != 200 or answer.streaming:
            continue
        content = answer.content.decode(errors="replace")
        if answer["Content-Type"].startswith("text/html"):
            words = unescape(content)
            shown += any(text.split()[0] in words for text in texts.values())
            for link in re.findall(r'href="([^"#]+)', content):
                link = unescape(link)
                if link.startswith(f"/w/{book.actor.slug}/"):
                    waiting.append(link)
    assert len(seen) > 50 and shown > 20
