"""What the questions asked while typing find in the demo's season. Its figures are invented."""

from __future__ import annotations

import sys
from collections import defaultdict
from datetime import UTC, datetime

import pytest
import time_machine

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.models import FigureDoubt, Run
from recycling.queries.people.workshops import lead_of
from tests.slip_books import Made, Weighed, is_asked

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
DAY = datetime(2026, 12, 1, 15, tzinfo=UTC)
"""The season follows the day it is made on: of eight days, 0.9 to 1.3 % are asked about."""


@pytest.fixture(scope="module")
def lead(module_book):
    with time_machine.travel(DAY):
        assert make_season(DAY)
        yield lead_of(cast.WORKSHOP.slug)


def test_honest_entries_are_not_asked_about_and_a_factor_of_ten_is(lead):
    """Each mass is held against those before it of its stage and form, as it was recorded."""
    runs = Run.objects.filter(workshop_id=lead.workshop_id).exclude(outputs=None)
    asked = FigureDoubt.objects.filter(workshop_id=lead.workshop_id)
    entries = Run.objects.filter(workshop_id=lead.workshop_id).count()
    honest = asked.values("run").distinct().count() / entries
    past, found = defaultdict(list), []
    for run in runs.order_by("ended_at", "number").prefetch_related("outputs", "draws"):
        drawn, before = sum(draw.mass_mg for draw in run.draws.all()), 0
        for lot in sorted(run.outputs.all(), key=lambda lot: lot.number):
            known = past[run.stage, lot.form]
            told = Made(run.stage, drawn, ())
            for by in (10, 0.1) if len(known) >= 8 and lot.made_mg > 10 else ():
                slip = Weighed(lot.form, round(lot.made_mg * by), 0)
                found.append(is_asked(told, slip, before, known))
            before += lot.made_mg
        for lot in run.outputs.all():
            past[run.stage, lot.form].append((lot.made_mg, drawn))
    caught = sum(found) / len(found)
    said = f"demo: {honest:.2%} of {entries} entries asked, {caught:.1%} of {len(found)} found\n"
    sys.stdout.write(said)
    assert honest <= 0.01, list(asked.values_list("key", flat=True))
    assert len(found) > 200 and caught >= 0.95
