"""A field of what comes in is declared once, and every place that takes or shows it has it.

Each place below answers for one field whether it has it; a field that is added to its entry alone
fails at each place that lacks it, by name.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import get_type_hints

import pytest
from django.test import Client
from django.utils import translation

from api.protocol.schema import document
from recycling.models import Lot, Member, Origin
from recycling.models.archived import ARCHIVED
from recycling.queries.lots.lots import lot_page
from recycling.queries.lots.origins import origin_page
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.lots.origin_entries import OPENING, ORIGINS, BagEntry, OriginEntry
from recycling.services.lots.origin_record import origin_record
from recycling.tables.lists.asking import Asking
from recycling.tables.lists.entries import grouped
from recycling.tables.lists.entries_file import read_entries
from recycling.tables.lists.known import Known
from recycling.tables.lists.reading import read_sheets, sheets_of_text
from shared.declared import declared_in, lengths_in
from tests.factories import KG, START, MachineFactory, ProgrammeFactory, SourceFactory
from tests.factories import WorkshopFactory as Workshops
from tests.web.recording.conftest import text_of

PAGE_OF_FILES = Path(__file__).parent.parent / "docs/reference/entries_file.md"
PAGES = dict(zip(ORIGINS, ("collections/new/", "purchases/new/", "opening/new/"), strict=True))
BODIES = {kind: f"{kind.capitalize()}Body" for kind in ORIGINS}
FIELDS = [(entry, name) for entry in (OriginEntry, BagEntry) for name in declared_in(entry)]
EACH = [
    pytest.param(entry, name, kind, id=f"{entry.__name__}.{name}-{kind}")
    for entry, name in FIELDS
    for kind in declared_in(entry)[name].kinds or ORIGINS
]
ONCE = [pytest.param(*field, id=f"{field[0].__name__}.{field[1]}") for field in FIELDS]
ROWS = ("bags", "weighing")
"""Kept as rows of their own, lots and weighings, which the archive holds whole."""
KEPT = [one for one, (_entry, name) in zip(ONCE, FIELDS, strict=True) if name not in ROWS]
KEPT_AS = {"mass_mg": "made_mg"}
NAMED = {"source": "Hill School", "programme": "Spring", "machine": "Melter"}
KNOWN = {"kind": "collection", "happened_at": START, "mass_mg": 3 * KG, "form": "heel"}
KNOWN |= {"polymer": "HDPE", "weighing": WeighingEntry(how="estimated")}
SHOWN_AS = {"bags": "lots", "weighing": "how", "mass_mg": "made_mg"}


def sample(entry: type, name: str):
    """Something that a field can hold, unlike what it holds when nobody says it."""
    if name in NAMED or name in KNOWN:
        return NAMED.get(name) or KNOWN[name]
    kind = get_type_hints(entry)[name]
    return 7 if kind == int | None else f"told {name}"


def filled(entry: type, **own):
    said = {name: sample(entry, name) for name in declared_in(entry) if name not in own}
    return entry(**said, **own)


@pytest.fixture(scope="module")
def shop(module_book):
    """A workshop that has a source, a programme and a machine to name."""
    lead = Workshops()
    SourceFactory(actor=lead, name=NAMED["source"])
    ProgrammeFactory(actor=lead, name=NAMED["programme"])
    MachineFactory(actor=lead, name=NAMED["machine"], kind="extruder")
    client = Client()
    client.force_login(Member.objects.get(workshop_id=lead.workshop_id).user)
    return SimpleNamespace(lead=lead, client=client)


@pytest.fixture(scope="module")
def book(shop):
    """A collection that says everything, and an opening count whose one bag does."""
    lacking = set(lengths_in(OriginEntry)) - columns_of(Origin)
    assert not lacking, f"the book has no column for {lacking}"
    lead = shop.lead
    told = origin_record(lead, filled(OriginEntry, bags=(BagEntry(KG),)))
    heel = origin_record(lead, OriginEntry(OPENING, START, (filled(BagEntry),)))
    (lot,) = heel.lots
    return SimpleNamespace(**vars(shop), origin=told.code, lot=lot.code)


def columns_of(model) -> set[str]:
    return {one.name for one in model._meta.concrete_fields}


def page(shop, path: str):
    answer = shop.client.get(f"/w/{shop.lead.slug}/{path}")
    assert answer.status_code == 200
    return answer


def test_every_field_is_declared():
    for entry in (OriginEntry, BagEntry):
        assert set(declared_in(entry)) == set(entry.__dataclass_fields__)


def test_every_text_is_a_name_or_has_a_length():
    texts = {name for entry, name in FIELDS if get_type_hints(entry)[name] is str}
    long = {name for entry in (OriginEntry, BagEntry) for name in lengths_in(entry)}
    assert texts - long == {"kind", "source", "programme", "form", "polymer", "machine"}


@pytest.mark.parametrize(("entry", "name", "kind"), EACH)
def test_page_has_a_control(shop, entry, name, kind):
    declared = declared_in(entry)[name].of(kind)
    if declared.by_address:
        return
    answer = page(shop, PAGES[kind])
    control = declared.control or name
    named = control if entry is OriginEntry else f"bags-0-{control}"
    assert f'name="{named}"' in answer.content.decode()
    assert declared.control or declared.label in text_of(answer)
    assert declared.help in text_of(answer)


@pytest.mark.parametrize(("entry", "name", "kind"), EACH)
def test_body_has_it_explained(entry, name, kind):
    declared = declared_in(entry)[name].of(kind)
    if declared.by_address:
        return
    body = BODIES[kind] if entry is OriginEntry else "BagBody"
    fields = json.loads(document())["components"]["schemas"][body]["properties"]
    spread = [one for one in WeighingEntry.__dataclass_fields__ if one != "note"]
    names = spread if name == "weighing" else [declared.api or name]
    assert all(fields[one].get("description") for one in names)
    if name != "weighing":
        assert fields[names[0]]["description"] == declared.means


@pytest.mark.parametrize(("entry", "name"), ONCE)
def test_list_has_it_or_says_why_not(entry, name):
    declared = declared_in(entry)[name]
    assert bool(declared.columns) != bool(declared.not_in_lists)
    for head in declared.columns:
        said = sample(entry, name)
        said = {"form": "caps", "note": f"told {head}"}.get(name, said)
        cells = {"at": START.isoformat(), "polymer": "PET", "mass_mg": "1", "source": "Hill School"}
        cells |= {"kind": "purchase"} if head in ("supplier", "document") else {}
        if entry is BagEntry and name == "mass_mg":
            cells.pop("mass_mg")
        cells[head] = f"{said} mg" if head == "mass" else as_told(said)
        read = read_list("\n".join([",".join(cells), ",".join(cells.values())]))
        ((origin, _rows),) = grouped(read.rows)
        assert getattr(origin if entry is OriginEntry else origin.bags[0], name) == said


def read_list(text: str):
    polymers = (("PET", "", 1), ("HDPE", "", 2))
    known = Known("Europe/Lisbon", sources=("Hill School",), programmes=("Spring",))
    known, asking = replace(known, polymers=polymers), Asking()
    sheets = sheets_of_text(text.encode(), known, asking, lambda: None)
    read = read_sheets(sheets, known, asking)
    assert not asking.questions and not asking.found.problems
    return read


@pytest.mark.parametrize(("entry", "name"), ONCE)
def test_file_reads_it_or_says_why_not(entry, name):
    declared = declared_in(entry)[name]
    if declared.not_in_files:
        return
    told = declared.file or name
    tables = PAGE_OF_FILES.read_text().partition("### `collection`")[2].partition("### `run`")[0]
    assert re.search(rf"^\| `{told}` \|", tables, re.MULTILINE), f"{PAGE_OF_FILES.name} lacks it"
    if name == "bags":
        return
    bag = {"lot": "a", "form": "caps", "polymer": "PET", "mass_mg": 1}
    whole = {"entry": "collection", "at": START.isoformat(), "bags": [bag]}
    value = sample(entry, name)
    (whole if entry is OriginEntry else bag)[told] = value if type(value) is int else as_told(value)
    (read,) = read_entries(json.dumps({"entries": [whole]}))
    assert getattr(read.entry if entry is OriginEntry else read.entry.bags[0], name) == value


def as_told(value) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)


@pytest.mark.parametrize(("entry", "name"), KEPT)
def test_archive_keeps_it(entry, name):
    model = Origin if entry is OriginEntry else Lot
    (archived,) = (one for one in ARCHIVED if one.model is model)
    assert KEPT_AS.get(name, name) in {one.name for one in archived.fields}


@pytest.mark.parametrize(("entry", "name"), KEPT)
def test_book_keeps_it(book, entry, name):
    model, code = (Origin, book.origin) if entry is OriginEntry else (Lot, book.lot)
    kept, said = getattr(model.objects.get(code=code), KEPT_AS.get(name, name)), sample(entry, name)
    assert (getattr(kept, "name", kept) if name in NAMED else kept) == said


@pytest.mark.parametrize(("entry", "name"), ONCE)
def test_record_and_its_page_show_it(book, entry, name):
    of_origin = entry is OriginEntry
    record = origin_page(book.lead, book.origin) if of_origin else lot_page(book.lead, book.lot)
    shown, said = getattr(record, SHOWN_AS.get(name, name)), sample(entry, name)
    if name == "bags":
        assert len(shown) == 1
        return
    assert shown == getattr(said, "how", said)
    words = text_of(page(book, f"{'collections' if of_origin else 'lots'}/{record.code}/"))
    if isinstance(said, str):
        assert said in words.lower() or said in words


@pytest.mark.parametrize(("entry", "name"), ONCE)
def test_words_are_said_in_german(entry, name):
    declared = declared_in(entry)[name]
    with translation.override("de"):
        for kind in ("", *declared.by_kind):
            for word in (declared.of(kind).label, declared.of(kind).help):
                assert not word or translation.gettext(word) != word or word in SAME_IN_GERMAN


SAME_IN_GERMAN = {"Polymer"}
