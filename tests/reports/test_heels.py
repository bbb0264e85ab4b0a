"""Recycled content is not exact where a heel that nobody weighed is in the spool."""

from __future__ import annotations

import pytest

from recycling.calc.balance.coverage import student_factor
from recycling.models import Run
from tests.histories import tell
from tests.queries.passing import all_within
from tests.queries.reported import fact, report

pytestmark = pytest.mark.django_db

# 60 g of a heel of unknown origin and 190 g of collected flake, well mixed: 0.76 is recycled
OVER_A_HEEL = """
O1: heel PET 60g in extruder
C1: flake PET 390g
R2 dry C1.1 all -> dried flake 390g
R3 extrude R2.1 190g -> filament 180g spool, heel 60g
"""
RULE = 0.20
"""Of a heel's mass: the first setting of an estimate's standard uncertainty."""


def content(told):
    return fact(report(told.actor), "recycled_content_share")


def test_the_estimate_of_a_heel_is_in_the_recycled_content():
    """r = F/(F + h), so ∂r/∂(ln h) = −r(1 − r), and u(h)/h is 20 % with ν = 8 (GUM G.4.2)."""
    told = all_within(tell(OVER_A_HEEL))
    Run.objects.filter(stage="extrude").update(composition_model="well mixed")
    found = content(told)
    share = 190 / 250
    assert found.value == pytest.approx(share, abs=1e-6)
    u = share * (1 - share) * RULE
    assert found.covered.u == pytest.approx(u, rel=0.02)  # weighings of 5 g steps add a little
    assert found.covered.half == pytest.approx(student_factor(8) * u, rel=0.05)
    assert "the estimate of what stayed in a barrel" in found.covered.because[0]


def test_a_heel_of_the_same_kind_takes_nothing_from_it():
    told = tell(OVER_A_HEEL + "R4 extrude R2.1 200g -> filament 190g spool, heel 60g\n")
    all_within(told)
    alone = tell(
        "C1: flake PET 390g\n"
        "R2 dry C1.1 all -> dried flake 390g\n"
        "R3 extrude R2.1 190g -> filament 120g spool, heel 60g\n"
        "R4 extrude R2.1 200g -> filament 190g spool, heel 60g\n"
    )
    exact = content(all_within(alone))
    assert (exact.value, exact.covered) == (1.0, None)
    assert content(told).covered.half > 0.01
