"""What the public sees of a spool: sums that are exact, and nobody singled out without consent."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recycling.calc.quality.filament import length_m
from recycling.models import Lot, Polymer, Source, Spool
from recycling.queries.labels.spool_page import SMALL_GROUP, grouped, public_spool
from recycling.records.labels.spool_page import GROUP, NAMED, TRACES, UNNAMED
from recycling.services.labels import link_give
from tests.queries.spoilt import spoilt_book

KINDS = ("school", "shop", "household", "club")
SOURCES = st.lists(st.tuples(st.integers(1, 9), st.sampled_from(KINDS), st.booleans()), max_size=12)


def parts_of(sources):
    """One source keeps one kind and one consent, as in the book."""
    known = {}
    for place, (number, kind, consent) in enumerate(sources):
        kind, consent = known.setdefault(number, (kind, consent))
        yield (1000 + place, "collection", number, f"Source {number}", kind, consent)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(SOURCES, st.integers(0, 50))
def test_parts_add_up_and_small_groups_are_not_broken_out(sources, traces_mg):
    parts = list(parts_of(sources))
    whole = sum(part[0] for part in parts) + traces_mg
    found = grouped(parts, traces_mg, whole)
    assert sum(part.mass_mg for part in found) == whole
    consent = {part[3] for part in parts if part[5]}
    assert {part.name for part in found if part.kind == NAMED} == consent
    silent = {name for part in parts if not part[5] for name in [part[3]]}
    assert not silent & {part.name for part in found}
    for part in found:
        if part.kind == GROUP:
            behind = {p[2] for p in parts if p[4] == part.name and not p[5]}
            assert part.sources == len(behind) >= SMALL_GROUP
        if part.kind == UNNAMED:
            assert part.name == "" and part.sources == 0


def test_two_schools_are_not_told_apart_from_a_shop_and_three_are():
    two = [(10, "collection", n, f"School {n}", "school", False) for n in (1, 2)]
    shop = (5, "collection", 9, "Shop", "shop", False)
    assert [(one.kind, one.mass_mg) for one in grouped([*two, shop], 0, 25)] == [(UNNAMED, 25)]
    third = (10, "collection", 3, "School 3", "school", False)
    found = grouped([*two, third, shop], 2, 37)
    assert [(one.kind, one.name, one.mass_mg) for one in found] == [
        (GROUP, "school", 30),
        (UNNAMED, "", 5),
        (TRACES, "", 2),
    ]


@pytest.fixture
def told(db):
    return spoilt_book()


def test_a_source_is_named_once_it_agrees(told):
    token = link_give(told.actor, told.code("S7")).token
    before = public_spool(token)
    assert {part.kind for part in before.sources} == {UNNAMED}
    assert sum(part.mass_mg for part in before.sources) == before.mass_mg
    lot = Lot.objects.get(code=told.code("S7"), workshop_id=told.actor.workshop_id)
    source = Source.objects.filter(collections__parts__lot=lot).first()
    Source.objects.filter(pk=source.pk).update(may_be_named=True)
    after = public_spool(token)
    assert source.name in [part.name for part in after.sources if part.kind == NAMED]
    assert sum(part.mass_mg for part in after.sources) == after.mass_mg


def test_metres_left_follow_from_mass_density_and_diameter(told):
    """The length of a cylinder: m / (ρ·π·d²/4), computed here by the handbook's formula."""
    code = told.code("S7")
    lot = Lot.objects.get(code=code, workshop_id=told.actor.workshop_id)
    Spool.objects.update_or_create(lot=lot, defaults={"diameter_mm": 1.75, "tolerance_mm": 0.05})
    Polymer.objects.filter(workshop_id=told.actor.workshop_id, code=lot.polymer).update(
        density_g_cm3=1.34
    )
    shown = public_spool(link_give(told.actor, code).token)
    assert shown.left_at == "here" and shown.left_mg == shown.mass_mg
    assert shown.metres_left == pytest.approx(length_m(shown.left_mg / 1000, 1.75, 1.34))
    metre_g = 1.34 * 3.141592653589793 * 1.75**2 / 4
    assert shown.metres_left == pytest.approx(shown.left_mg / 1000 / metre_g)
