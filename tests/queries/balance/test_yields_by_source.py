"""Each source's yield rests on the runs that it came into, with an uncertainty of its own."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from recycling.models import Origin, Source
from recycling.queries.balance.yields import yields
from tests.factories import START
from tests.histories import tell

pytestmark = pytest.mark.django_db
LONG = (START - timedelta(days=1), START + timedelta(days=400))


@pytest.fixture
def told():
    """Two sources in runs of their own, and a third run of both, 2 to 1."""
    told = tell(
        "C1: flake PET 10kg\nC2: flake PET 10kg\n"
        "R1 dry C1.1 1kg -> dried flake 990g\n"
        "R2 dry C2.1 100g -> dried flake 90g\n"
        "R3 dry C1.1 2kg, C2.1 1kg -> dried flake 2970g"
    )
    other = Source.objects.create(workshop_id=told.actor.workshop_id, name="Harbour hall")
    Origin.objects.filter(code=told.code("C2")).update(source=other)
    return told


def by_name(told) -> dict:
    return {row.key: row for row in yields(told.actor, *LONG, by="source", stage="dry").rows}


def test_a_source_counts_the_runs_that_it_came_into(told):
    rows = by_name(told)
    harbour = rows.pop("Harbour hall")
    (school,) = rows.values()
    assert (school.runs, harbour.runs) == (2, 2)
    assert (school.target_mg, school.product_mg) == (3_000_000, 990_000 + 1_980_000)
    assert (harbour.target_mg, harbour.product_mg) == (1_100_000, 90_000 + 990_000)


def test_its_uncertainty_is_its_own(told):
    rows = by_name(told)
    harbour = rows.pop("Harbour hall")
    (school,) = rows.values()
    assert harbour.first_pass.u > school.first_pass.u * 1.5
    # JCGM 100:2008, 5.1.6: in a quotient of independent quantities relative variances add up;
    # OIML R 76-1, table 6: 5 g steps, up to 500 e half a step and above it one, twice in service.
    # The scale is not known: its error adds up on each side and does not cancel between them.
    limit, step = 5_000 / math.sqrt(3), 5_000 / math.sqrt(12)
    fed = math.hypot(limit * (1 + 2 / 3), step * math.hypot(1, math.sqrt(2) / 3))
    given = math.hypot(limit * (1 + 2 / 3), step * math.hypot(1, 1 / 3))
    fed, given = fed / harbour.target_mg, given / harbour.product_mg
    assert harbour.first_pass.u / harbour.first_pass.share == pytest.approx(math.hypot(fed, given))
