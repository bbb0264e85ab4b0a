"""Damaged lists, CSV and XLSX: none breaks anything, none is taken in part, rows are named.

Damage is drawn from a seed. A spreadsheet is read in this process here, so that hundreds can be;
that the process of its own keeps its limits is held in ``tests/tables/lists/test_spreadsheets.py``.
"""

from __future__ import annotations

import csv
import io
import random
import zipfile
from collections import Counter
from datetime import datetime, timedelta
from resource import RUSAGE_SELF, getrusage

import openpyxl
import pytest

from recycling.ledger.models import Entry
from recycling.models import ImportFile, Job, Lot
from recycling.queries.integrity.audit import audit
from recycling.queries.lists import import_shown
from recycling.services.lists import TAKE, import_bring, import_take
from recycling.tables.lists import spreadsheets
from recycling.tables.lists.entries import BAG_HEADS, HEAD
from recycling.tasks import import_look, import_write
from shared.errors import Refused
from tests.factories import SourceFactory

pytestmark = pytest.mark.django_db
MOST_MEMORY = 128 * 2**20
HEADS = ["at", "source", "form", "polymer", "colour", "mass", "count", "note"]
WHOLE_FILE = {
    "file-empty", "text-unreadable", "spreadsheet-unreadable", "spreadsheet-too-large",
    "sheet-missing", "json-unreadable",
}  # fmt: skip
"""What is said of a file, not of one of its rows."""
SIGNS = [
    '"',
    ",",
    ";",
    "\n",
    "\r",
    "\x00",
    "\x1a",
    "{",
    "=",
    "'",
    "\ufeff",
    "é",
    "\u2028",
    "9" * 30,
]
WRONG = {
    "at": ["yesterday", "4.-5.5.2026", "2026-13-04T09:30Z", "2926-05-04T09:30Z", "31.4.2026"],
    "form": ["bricks", "heel"],
    "colour": ["c" * 41],
    "mass": ["", "0 kg", "-1 kg", "1e3 kg", "lots", "1.2.34 kg", "9" * 40 + " kg", "1 stone"],
    "count": ["x", "0", "-3", "1.5", "9" * 20],
    "note": ["n" * 501],
}


ASKED = {
    "source": ["", "Nobody", "Corner sohp"],
    "polymer": ["", "XYZ", "P" * 200],
    "mass": ["4.31", "90000 kg", "4 g"],
    "at": ["", "2016-05-04"],
}
"""What is no mistake for sure: it is asked, once."""


@pytest.fixture
def actor(lead):
    SourceFactory(actor=lead, name="Corner shop")
    return lead


@pytest.fixture
def here(monkeypatch):
    """Read spreadsheets in this process; what breaks there is what the other process dies of."""

    def read(data: bytes) -> dict:
        try:
            return spreadsheets.read_here(data)
        except Exception:
            return {}

    monkeypatch.setattr(spreadsheets, "_apart", read)


def rows_of(count: int) -> list[list[str]]:
    start = datetime(2026, 1, 5, 9, 30)
    return [
        [
            f"{start + timedelta(days=n // 2):%Y-%m-%dT%H:%M}+00:00",
            "Corner shop",
            "" if n % 3 else "caps",
            "PET" if n % 3 else "HDPE",
            "clear",
            f"{1 + n}.25 kg",
            str(3 + n),
            "",
        ]
        for n in range(count)
    ]


def as_csv(rows: list[list[str]]) -> bytes:
    paper = io.StringIO()
    csv.writer(paper).writerows([HEADS, *rows])
    return paper.getvalue().encode()


def as_xlsx(rows: list[list[str]]) -> bytes:
    book, paper = openpyxl.Workbook(), io.BytesIO()
    for row in (HEADS, *rows):
        book.active.append(row)
    book.save(paper)
    return paper.getvalue()


def hurt(data: bytes, chance: random.Random) -> bytes:
    """Damage bytes: flip, cut, double, insert, or swap some of them."""
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 5))):
        at = chance.randrange(len(changed) + 1)
        end = min(len(changed), at + chance.randrange(1, 40))
        what = chance.randrange(5)
        if what == 0 and at < len(changed):
            changed[at] ^= 1 << chance.randrange(8)
        elif what == 1:
            del changed[at:end]
        elif what == 2:
            changed[at:at] = changed[at:end]
        elif what == 3:
            changed[at:at] = chance.choice(SIGNS).encode()
        else:
            del changed[chance.randrange(len(changed) + 1) :]
        if not changed:
            break
    return bytes(changed)


def hurt_inside(data: bytes, chance: random.Random) -> bytes:
    """Damage the unpacked text of one member and pack it again."""
    paper = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(paper, "w", 8) as new:
        names = [*old.namelist(), *["xl/worksheets/sheet1.xml"] * 20]
        target = chance.choice(names)
        for name in old.namelist():
            text = old.read(name)
            new.writestr(name, hurt(text, chance) if name == target else text)
    return paper.getvalue()


def recorded(actor) -> tuple[int, int]:
    own = actor.workshop_id
    return Lot.objects.filter(workshop_id=own).count(), Entry.objects.filter(book_id=own).count()


def work() -> None:
    job = Job.objects.filter(finished_at=None).latest("pk")
    (import_write if job.task == TAKE else import_look)(job.pk)


def brought(actor, data: bytes) -> list[tuple[str, int, str]]:
    """Bring a file and look it through; give what is said: code, row and column.

    A spreadsheet whose values the damage left alone is the one that was taken before.
    """
    try:
        number = import_bring(actor, "damaged", data)
    except Refused as refused:
        said = [(one.code, one.pointer.strip("/").partition("/")) for one in refused.problems]
        return [(code, int(row) if row.isdigit() else 0, name) for code, (row, _, name) in said]
    if Job.objects.filter(finished_at=None).exists():
        work()
    shown = import_shown(actor, number)
    fine = ("asked",) if shown.questions else ("looked", "taken")
    assert shown.state in (("failed",) if shown.problems else fine)
    return [(one.code, one.row, one.pointer) for one in shown.problems]


def taken(actor, before: tuple[int, int]) -> int:
    """Take the file that nothing stands against; all of its lots are there, or none."""
    file = ImportFile.objects.get(state=ImportFile.LOOKED)
    import_take(actor, file.number)
    work()
    shown = import_shown(actor, file.number)
    new = recorded(actor)[0] - before[0]
    assert new == (len(shown.lots) if shown.state == "taken" else 0)
    return new


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["csv", "xlsx", "xlsx, inside"])
def test_no_damage_breaks_anything_or_is_taken_in_part(actor, here, kind):
    chance, rows = random.Random(f"lists {kind}"), rows_of(12)
    good = as_csv(rows) if kind == "csv" else as_xlsx(rows)
    seen: Counter[str] = Counter()
    resident = getrusage(RUSAGE_SELF).ru_maxrss
    for _ in range(150):
        data = (hurt_inside if "inside" in kind else hurt)(good, chance)
        before = recorded(actor)
        said = brought(actor, data)
        assert recorded(actor) == before, "looking through records nothing"
        assert "import-broke" not in {code for code, _row, _column in said}, data
        unplaced = {code for code, row, _column in said if not row}
        assert unplaced <= WHOLE_FILE, unplaced
        if said:
            seen["refused"] += 1
        elif ImportFile.objects.filter(state=ImportFile.LOOKED).exists():
            seen["taken"] += bool(taken(actor, before))
        ImportFile.objects.exclude(state=ImportFile.TAKEN).delete()
    assert (getrusage(RUSAGE_SELF).ru_maxrss - resident) * 1024 < MOST_MEMORY
    assert audit(actor.workshop_id) == []
    assert seen["refused"] > 20 and not Job.objects.filter(finished_at=None).exists(), seen


@pytest.mark.parametrize("write", [as_csv, as_xlsx])
def test_each_wrong_cell_is_named_by_row_and_column(actor, here, write):
    chance, before = random.Random(11), recorded(actor)
    for column, wrong in WRONG.items():
        for value in wrong:
            rows = rows_of(9)
            place = 2 * chance.randrange(4)
            rows[place][HEADS.index(column)] = value
            said = brought(actor, write(rows))
            assert {(row, name) for _code, row, name in said} == {(place + 2, column)}, (
                value,
                said,
            )
            ImportFile.objects.all().delete()
    assert recorded(actor) == before


@pytest.mark.parametrize("write", [as_csv, as_xlsx])
def test_what_may_be_meant_is_asked_by_row_and_column(actor, here, write):
    chance, before = random.Random(13), recorded(actor)
    for column, odd in ASKED.items():
        for value in odd:
            rows = rows_of(9)
            place = 2 + 2 * chance.randrange(3)
            rows[place][HEADS.index(column)] = value
            assert brought(actor, write(rows)) == []
            (file,) = import_shown(actor, ImportFile.objects.get().number).questions
            assert (file.row, file.column) == (place + 2, column), value
            ImportFile.objects.all().delete()
    assert recorded(actor) == before


@pytest.mark.parametrize("write", [as_csv, as_xlsx])
def test_several_wrong_cells_are_all_named_at_once(actor, here, write):
    chance = random.Random(12)
    for _ in range(8):
        rows, wanted = rows_of(30), set()
        for place in chance.sample(range(0, 30, 2), 6):
            column = chance.choice(["at", "colour", "form", "count", "note"])
            rows[place][HEADS.index(column)] = chance.choice(WRONG[column])
            wanted.add((place + 2, column))
        assert {(row, name) for _code, row, name in brought(actor, write(rows))} == wanted
        ImportFile.objects.all().delete()


def test_every_column_is_tried():
    assert {*WRONG, *ASKED} == set(HEADS) <= {*HEAD, *BAG_HEADS}
