"""What entries refer to: sources, programmes, machines, scales, containers, polymers."""

from __future__ import annotations

from datetime import date

import pytest

from recycling.models import (
    ChangeEvent,
    Container,
    Machine,
    Polymer,
    Programme,
    Scale,
    Source,
)
from recycling.queries.setup.register import polymers
from recycling.records.setup.entries import (
    ContainerEntry,
    MachineEntry,
    PolymerEntry,
    ProgrammeEntry,
    ScaleEntry,
    SourceEntry,
)
from recycling.services.setup import register as up
from tests.factories import KG, G, WorkshopFactory
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db

SCALE = {"interval_mg": G, "capacity_mg": 15 * KG}
KINDS = [
    (up.source_add, SourceEntry, Source, {"kind": "school", "may_be_named": True, "note": "n"}),
    (up.programme_add, ProgrammeEntry, Programme, {"funder": "town", "target_mg": 500 * KG}),
    (up.machine_add, MachineEntry, Machine, {"kind": "dryer", "note": "old"}),
    (up.scale_add, ScaleEntry, Scale, SCALE | {"accuracy_class": "II"}),
    (up.container_add, ContainerEntry, Container, {"tare_mg": 500 * G}),
]


@pytest.mark.parametrize(
    ("add", "entry", "model", "more"), KINDS, ids=[kind[1].__name__ for kind in KINDS]
)
def test_it_is_kept_as_told_under_a_name_of_its_own(lead, add, entry, model, more):
    pk = add(lead, entry(name="  First ", **more))
    row = model.objects.get(pk=pk, workshop_id=lead.workshop_id)
    assert row.name == "First"
    assert {key: getattr(row, key) for key in more} == more
    assert ChangeEvent.objects.get(deed="add").actor == lead.reference
    with refused("name-taken", pointer="/name"):
        add(lead, entry(name="FIRST", **more))
    with refused("name-missing", pointer="/name"):
        add(lead, entry(name=" ", **more))
    with refused("text-too-long", pointer="/name"):
        add(lead, entry(name="x" * 81, **more))
    add(WorkshopFactory(), entry(name="First", **more))


def test_a_polymer_goes_by_its_code(lead):
    pk = up.polymer_add(lead, PolymerEntry("rPET", "recycled PET", 1, 1.38))
    assert Polymer.objects.get(pk=pk).code == "rPET"
    with refused("name-taken", pointer="/code"):
        up.polymer_add(lead, PolymerEntry("PET"))
    with refused("text-too-long", pointer="/code"):
        up.polymer_add(lead, PolymerEntry("x" * 21))
    with refused("text-too-long", pointer="/name"):
        up.polymer_add(lead, PolymerEntry("ABS", "x" * 121))
    with refused("text-too-long", pointer="/density_source"):
        up.polymer_add(lead, PolymerEntry("ABS", density_g_cm3=1.05, density_source="x" * 201))


def test_every_first_density_says_where_it_comes_from(lead):
    known = {one.code: one for one in polymers(lead)}
    assert {code for code, one in known.items() if one.density_g_cm3} == {
        "PET",
        "HDPE",
        "PP",
        "PLA",
    }
    assert {one.density_source for one in known.values() if one.density_g_cm3} == {
        "default, not checked"
    }
    assert known["purge"].density_source == ""


@pytest.mark.parametrize(
    ("add", "entry", "code", "pointer"),
    [
        (up.source_add, SourceEntry("a", "planet"), "kind-unknown", "/kind"),
        (up.source_add, SourceEntry("a", note="x" * 501), "text-too-long", "/note"),
        (up.machine_add, MachineEntry("a", "loom"), "kind-unknown", "/kind"),
        (up.scale_add, ScaleEntry("a", 0, KG), "mass-not-positive", "/interval_mg"),
        (up.scale_add, ScaleEntry("a", G, -1), "mass-not-positive", "/capacity_mg"),
        (up.scale_add, ScaleEntry("a", KG, KG), "capacity-wrong", "/capacity_mg"),
        (up.scale_add, ScaleEntry("a", G, KG, "V"), "class-unknown", "/accuracy_class"),
        (up.container_add, ContainerEntry("a", 0), "mass-not-positive", "/tare_mg"),
        (up.programme_add, ProgrammeEntry("a", target_mg=0), "mass-not-positive", "/target_mg"),
        (up.programme_add, ProgrammeEntry("a", "x" * 121), "text-too-long", "/funder"),
        (
            up.programme_add,
            ProgrammeEntry("a", starts_date=date(2024, 2, 1), ends_date=date(2024, 1, 1)),
            "end-before-start",
            "/ends_date",
        ),
        (up.polymer_add, PolymerEntry("a", resin_code=8), "number-out-of-bounds", "/resin_code"),
        (up.polymer_add, PolymerEntry("a", density_g_cm3=9.0), "number-out-of-bounds",
         "/density_g_cm3"),
        (up.polymer_add, PolymerEntry("a", density_g_cm3=float("nan")), "number-out-of-bounds",
         "/density_g_cm3"),
    ],
)  # fmt: skip
def test_each_mistake_has_its_own_answer(lead, add, entry, code, pointer):
    with refused(code, pointer=pointer):
        add(lead, entry)
