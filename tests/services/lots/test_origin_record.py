"""What comes in: every bag becomes a lot, and every mistake has an answer."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime

import pytest

from recycling.ledger.models import Entry
from recycling.models import Origin, Weighing
from recycling.queries.integrity.audit import audit
from recycling.records.lots.mass_entries import WeighingEntry
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.services.lots.origin_record import origin_record
from tests.factories import (
    KG,
    START,
    MachineFactory,
    ProgrammeFactory,
    ScaleFactory,
    SourceFactory,
    WorkshopFactory,
)
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(lead):
    SourceFactory(actor=lead, name="Hill School")
    yield lead
    assert audit(lead.workshop_id) == []


ONE_BAG = (BagEntry(KG),)


def entry(kind: str = "purchase", bags=ONE_BAG, **more) -> OriginEntry:
    return OriginEntry(kind, more.pop("happened_at", START), bags, **more)


def test_a_collection_is_kept_as_told(lead):
    ProgrammeFactory(actor=lead, name="Spring")
    ScaleFactory(actor=lead, name="Floor")
    how = WeighingEntry(gross_mg=5_400_000, tare_mg=400_000, scale="Floor")
    bags = (
        BagEntry(5 * KG, colour="clear", count=150, weighing=how, note="damp"),
        BagEntry(KG, "caps", "HDPE"),
    )
    told = {"source": "Hill School", "programme": "Spring", "consent": "no names", "note": "n"}
    result = origin_record(lead, entry("collection", bags, **told))
    origin = Origin.objects.get(code=result.code)
    assert result.code.startswith("C") and result.kind == "collection"
    assert (origin.source.name, origin.programme.name) == ("Hill School", "Spring")
    assert (origin.consent, origin.note, origin.received_by) == ("no names", "n", lead.reference)
    first, second = origin.lots.order_by("pk")
    assert [lot.code for lot in result.lots] == [first.code, second.code]
    assert (first.colour, first.count, first.note, first.role) == ("clear", 150, "damp", "product")
    assert (second.form, second.polymer) == ("caps", "HDPE")
    assert Weighing.objects.get().posting.account_id == first.pk
    assert Entry.objects.get().kind == "receive"


@pytest.mark.parametrize(("kind", "letter"), [("purchase", "P"), ("opening", "O")])
def test_purchases_and_openings_need_no_source(lead, kind, letter):
    result = origin_record(lead, entry(kind, supplier="Harbour", document="DN 1"))
    assert result.code.startswith(letter)


def test_codes_of_all_kinds_share_one_row_of_numbers(lead):
    numbers = []
    for kind in ("purchase", "opening", "purchase"):
        result = origin_record(lead, entry(kind, (BagEntry(1), BagEntry(2))))
        codes = [result.code, result.run, *(lot.code for lot in result.lots)]
        numbers += [int(code[1:].split("-")[0]) for code in codes]
    assert sorted(numbers) == list(range(1, 13))


def test_a_source_and_a_machine_can_be_given_by_id(lead):
    source = SourceFactory(actor=lead, name="Shop")
    machine = MachineFactory(actor=lead, name="Ex", kind="extruder")
    result = origin_record(lead, entry("collection", source=str(source)))
    assert Origin.objects.get(code=result.code).source_id == source
    heel = BagEntry(40, "heel", machine=str(machine))
    result = origin_record(lead, entry("opening", (heel,)))
    assert Origin.objects.get(code=result.code).lots.get().machine_id == machine


NAIVE, LATE = datetime(2024, 1, 8), datetime(2999, 1, 1, tzinfo=UTC)
REFUSALS = [
    ("kind-unknown", "/kind", {"kind": "gift"}),
    ("source-missing", "/source", {"kind": "collection"}),
    ("source-unknown", "/source", {"source": "Nobody"}),
    ("programme-unknown", "/programme", {"programme": "Autumn"}),
    ("bags-missing", "/bags", {"bags": ()}),
    ("bags-missing", "/bags", {"bags": (BagEntry(1),) * 201}),
    ("time-without-offset", "/happened_at", {"happened_at": NAIVE}),
    ("time-in-future", "/happened_at", {"happened_at": LATE}),
    ("time-too-early", "/happened_at", {"happened_at": START.replace(year=1969)}),
    ("text-too-long", "/supplier", {"supplier": "x" * 121}),
    ("text-too-long", "/document", {"document": "x" * 121}),
    ("text-too-long", "/consent", {"consent": "x" * 201}),
    ("text-unreadable", "/note", {"note": "\x00"}),
]
BAD_BAGS = [
    ("mass-not-positive", "mass_mg", {"mass_mg": 0}),
    ("mass-too-large", "mass_mg", {"mass_mg": 10**12 + 1}),
    ("mass-not-whole", "mass_mg", {"mass_mg": 1.0}),
    ("form-wrong", "form", {"form": "gold"}),
    ("polymer-missing", "polymer", {"polymer": ""}),
    ("polymer-unknown", "polymer", {"polymer": "gold"}),
    ("count-wrong", "count", {"count": 0}),
    ("count-wrong", "count", {"count": 10**7}),
    ("heel-machine", "machine", {"form": "heel"}),
    ("machine-unknown", "machine", {"form": "heel", "machine": "none"}),
    ("text-too-long", "colour", {"colour": "x" * 41}),
    ("text-too-long", "note", {"note": "x" * 501}),
    ("how-unknown", "weighing/how", {"weighing": WeighingEntry("guess")}),
    ("gross-net-differ", "weighing/gross_mg", {"weighing": WeighingEntry(gross_mg=2 * KG)}),
    ("scale-unknown", "weighing/scale", {"weighing": WeighingEntry(scale="none")}),
]


@pytest.mark.parametrize(("code", "pointer", "more"), REFUSALS, ids=str)
def test_each_mistake_has_its_own_answer(lead, code, pointer, more):
    with refused(code, pointer=pointer):
        origin_record(lead, entry(**more))
    assert not Origin.objects.exists()


@pytest.mark.parametrize(("code", "pointer", "more"), BAD_BAGS, ids=str)
def test_each_mistake_of_a_bag_names_that_bag(lead, code, pointer, more):
    bad = dataclasses.replace(BagEntry(KG), **more)
    with refused(code, pointer=f"/bags/1/{pointer}"):
        origin_record(lead, entry(bags=(BagEntry(KG), bad)))


def test_a_machine_has_a_heel_and_nothing_else_has_one(lead):
    MachineFactory(actor=lead, name="Ex", kind="extruder")
    with refused("heel-machine", pointer="/bags/0/machine", says="choose heel, or no machine"):
        origin_record(lead, entry("opening", (BagEntry(5, "flake", machine="Ex"),)))


def test_another_workshops_names_are_unknown(lead):
    other = WorkshopFactory()
    source = SourceFactory(actor=other, name="Theirs")
    for name in ("Theirs", str(source)):
        with refused("source-unknown", pointer="/source"):
            origin_record(lead, entry("collection", source=name))


def test_a_machine_has_one_heel_and_only_where_it_keeps_one(lead):
    MachineFactory(actor=lead, name="Ex", kind="extruder")
    MachineFactory(actor=lead, name="Mill", kind="shredder")
    heel = BagEntry(40_000, "heel", "PET", machine="Ex")
    with refused("heel-wrong", pointer="/bags/0/machine"):
        origin_record(lead, entry("opening", (dataclasses.replace(heel, machine="Mill"),)))
    with refused("heel-exists", pointer="/bags/1/machine"):
        origin_record(lead, entry("opening", (heel, heel)))
    origin_record(lead, entry("opening", (heel,)))
    with refused("heel-exists", pointer="/bags/0/machine"):
        origin_record(lead, entry("opening", (heel,)))
