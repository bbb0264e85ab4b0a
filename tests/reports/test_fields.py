"""The page of a report's fields and what reports hold are the same, both ways."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from recycling.models import Origin, Source
from recycling.records.reports.documents import Column, Document, Fact
from recycling.records.reports.question import THANKS
from tests.factories import START, ProgrammeFactory, ScaleFactory
from tests.histories import tell
from tests.queries.passing import all_within
from tests.queries.reported import report

pytestmark = pytest.mark.django_db
PAGE = Path(__file__).resolve().parents[2] / "docs/reference/report_fields.md"
ROW = re.compile(r"^\| `(?P<key>[a-z_.0-9]+)` \| (?P<unit>[^|]*) \| (?P<words>[^|]+) \|$")
UNITS = {"mass": "mg", "share": "share of 1", "energy": "kWh", "text": "text", "day": "ISO 8601"}
Fields = dict[tuple[str, str], str]

RICH = """
C1: bottles PET 9kg
C2: bottles PET 3kg
C3: bottles PET 2kg
P1: pellets PET 1kg
R1 sort C1.1 all, C2.1 all -> clean bottles 10kg, caps HDPE 1kg, reject 900g
R2 shred R1.1 all -> flake 9.9kg, ~dust 50g
R3 dry R2.1 5kg -> dried flake 4.9kg, ~water 90g
R4 extrude R3.1 4kg, P1.1 500g -> filament 1kg spool, filament 2kg spool, start-up scrap 90g
R5 dispatch R4.1 all, R1.2 500g
R6 discard R1.3 500g
open R7 sort C3.1 1kg
"""


@pytest.fixture
def documents(db):
    told = all_within(tell(RICH))
    ScaleFactory(actor=told.actor)
    Source.objects.filter(workshop_id=told.actor.workshop_id).update(kind="school")
    ProgrammeFactory(actor=told.actor, name="Clean shore", target_mg=20_000_000)
    aim = told.actor.workshop_id
    for origin in Origin.objects.filter(workshop_id=aim, source__name="Source of C1"):
        origin.programme = origin.workshop.programmes.get()
        origin.save()
    day = START.date()
    return [
        report(told.actor),
        report(told.actor, programme="Clean shore"),
        report(told.actor, source="Source of C2"),
        report(told.actor, timezone.now().date(), timezone.now().date()),
        report(told.actor, kind=THANKS, source="Source of C1"),
        report(told.actor, day, day + timedelta(days=1)),
    ]


def unit_of(one: Column | Fact) -> str:
    return UNITS.get(one.kind) or one.unit or "count"


def fields_of(document: Document) -> Fields:
    found: Fields = {}
    for part in document.sections:
        for one in part.facts:
            found[part.key, one.key] = unit_of(one)
        for table in part.tables:
            for column in table.columns:
                found[part.key, f"{table.key}.{column.key}"] = unit_of(column)
    return found


def written() -> tuple[Fields, list[str]]:
    """Read the page: fields by section, and the sections in order."""
    found: Fields = {}
    section, sections = "", []
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if heading := re.match(r"^## `([a-z]+)`", line):
            section = heading[1]
            sections.append(section)
        elif row := ROW.match(line):
            assert row["words"].strip()
            assert (section, row["key"]) not in found, row["key"]
            found[section, row["key"]] = row["unit"].strip()
    return found, sections


def test_every_field_of_a_report_is_on_the_page_and_the_other_way_round(documents):
    found: Fields = {}
    for document in documents:
        found |= fields_of(document)
    page, sections = written()
    assert len(page) > 100
    assert found.items() - page.items() == set()
    assert page.items() - found.items() == set()
    told = dict.fromkeys(part.key for document in documents for part in document.sections)
    assert sections == list(told)


def test_keys_are_fit_for_files(documents):
    for document in documents:
        tables = [table for part in document.sections for table in part.tables]
        assert len({table.key for table in tables}) == len(tables)
        for table in tables:
            assert re.fullmatch(r"[a-z][a-z_]{0,30}", table.key)
            for row in [*table.rows, *([table.total] if table.total else [])]:
                assert len(row) == len(table.columns), table.key


def test_cells_are_what_their_columns_say(documents):
    fits = {
        "mass": int,
        "share": (int, float),
        "energy": (int, float),
        "number": (int, float),
        "text": str,
        "day": str,
    }
    for document in documents:
        for part in document.sections:
            for table in part.tables:
                for row in table.rows:
                    for column, cell in zip(table.columns, row, strict=True):
                        assert cell is None or isinstance(cell, fits[column.kind]), column.key
            for one in part.facts:
                assert one.value is None or isinstance(one.value, fits[one.kind]), one.key


def test_every_drawing_names_columns_of_its_table(documents):
    for document in documents:
        for part in document.sections:
            for one in part.drawings:
                table = next(table for table in part.tables if table.key == one.table)
                keys = {column.key for column in table.columns}
                named = {one.label, *one.values, *filter(None, (one.target, one.style))}
                assert named <= keys
                assert one.finding
                assert one.alt
