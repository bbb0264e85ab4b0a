"""Yields of a told history: by group, over time, chain, and from collected to spooled.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2: the relative variances of a ratio's parts add up.
.. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: its ten values have the mean
   50.81 and the limits 55.8041 and 45.8159.
"""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from recycling.queries.balance.yields import GROUPS, yields
from shared.errors import Refused
from tests.factories import START, ScaleFactory
from tests.histories import tell

STORY = """
C1: bottles PET 6kg, 4kg
P1: pellets PET 1kg
R1 sort C1.1 6kg, C1.2 3kg -> clean bottles 8500g, caps HDPE 300g, reject PET 100g, ~residue 50g
R2 shred R1.1 8kg -> flake 7kg, oversize 800g, fines 100g, ~dust 20g
R3 shred R2.2 800g -> flake 700g, fines 50g
R4 dry R2.1 6kg, R3.1 700g -> dried flake 6650g, ~water 40g
R5 extrude R4.1 6kg -> filament 5kg spool, start-up scrap 500g, heel 400g
R6 dispatch R5.1 1kg
R7 dispatch R1.2 all
"""


def asked(told, **more):
    return yields(told.actor, START - timedelta(days=1), START + timedelta(days=400), **more)


@pytest.mark.django_db
def test_each_stage_with_its_uncertainty():
    told = tell(STORY)
    rows = {row.key: row for row in asked(told).rows}
    shred = rows["shred"]
    assert (shred.runs, shred.product_mg, shred.target_mg) == (2, 7_700_000, 8_800_000)
    assert shred.again_mg == 800_000
    assert shred.first_pass.share == pytest.approx(7.7 / 8.8)
    assert shred.overall.share == pytest.approx(7.7 / 8.0)
    assert rows["extrude"].overall is None


@pytest.mark.django_db
def test_uncertainty_of_a_yield_is_that_of_its_scale():
    told = tell("C1: flake PET 2kg", None)
    ScaleFactory(actor=told.actor, interval_mg=1_000)
    told.tell("R1 dry C1.1 1kg -> dried flake 900g")
    (row,) = asked(told).rows
    # one error of one scale in product and feed: of it the difference of its shares is left
    scale = 2_000 / math.sqrt(3) * (1 / 900_000 - 1 / 1_000_000)
    steps = 1_000 / math.sqrt(12) * math.hypot(1 / 900_000, 1 / 1_000_000)
    assert row.first_pass.u == pytest.approx(0.9 * math.hypot(scale, steps))


@pytest.mark.django_db
@pytest.mark.parametrize("by", GROUPS)
def test_every_grouping_counts_the_same_masses(by):
    rows = asked(tell(STORY), by=by).rows
    assert sum(row.product_mg for row in rows) == pytest.approx(27_850_000, abs=3)


@pytest.mark.django_db
def test_chain_yield_is_the_product_of_its_stages():
    found = asked(tell(STORY))
    assert found.chain_stages == ("sort", "shred", "dry", "extrude")
    assert found.chain.share == pytest.approx(8.5 / 9 * 7.7 / 8.0 * 6.65 / 6.7 * 5 / 6)


@pytest.mark.django_db
def test_losses_step_down_to_the_spools_to_the_milligram():
    steps = asked(tell(STORY)).losses
    assert (steps[0].what, steps[0].change_mg) == ("collected", 10_000_000)
    assert (steps[-1].what, steps[-1].left_mg) == ("spooled", 5_000_000)
    assert sum(step.change_mg for step in steps[:-1]) == 5_000_000
    named = {(step.stage, step.what): step.change_mg for step in steps}
    assert named["sort", "side"] == -300_000
    assert named["shred", "waste"] == -150_000
    assert ("", "unaccounted") not in named


@pytest.mark.django_db
def test_losses_are_exact_with_counts_corrections_and_voids():
    told = tell(STORY)
    told.tell("count R8: R4.1 600g, R2.3 90g, R5.1 3990g")
    told.tell("correct R1 gave R1.1 8400g")
    told.tell("R9 discard R2.3 40g\nvoid R6\nopen R10 shred R1.1 100g")
    steps = asked(told).losses
    assert ("", "unaccounted") not in {(step.stage, step.what) for step in steps}
    assert sum(step.change_mg for step in steps[:-1]) == steps[-1].left_mg


@pytest.mark.django_db
def test_dry_yield_where_moisture_was_noted():
    from dataclasses import replace

    from recycling.records.lots.mass_entries import DrawEntry, OutputEntry
    from recycling.records.runs.entries import CheckEntry, RunEntry
    from recycling.services.runs.run_record import run_record

    told = tell("C1: flake PET 11kg")
    told._machine("dryer", "dryer")
    entry = RunEntry(
        "dry",
        told.now + timedelta(hours=1),
        told.now + timedelta(hours=6),
        machine="dryer",
        inputs=(DrawEntry(told.code("C1.1"), 10_300_000),),
        outputs=(OutputEntry("dried flake", 9_991_000),),
        checks=(
            CheckEntry("moisture_before_percent", "3"),
            CheckEntry("moisture_after_percent", "0.0"),
        ),
    )
    run_record(told.actor, replace(entry, checks=entry.checks + (CheckEntry("kept", "sealed"),)))
    (row,) = asked(told).rows
    assert row.dry_runs == 1
    assert row.dry.share == pytest.approx(1.0)
    assert row.first_pass.share == pytest.approx(0.97)


@pytest.mark.django_db
def test_the_chart_has_the_handbooks_limits_and_names_what_is_outside():
    values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    told = tell("C1: flake PET 12kg")
    for number, value in enumerate(values):
        told.tell(f"R{number} dry C1.1 1kg -> dried flake {round(value * 10)}g")
    chart = asked(told, stage="dry").chart
    assert 100 * chart.mean == pytest.approx(50.81)
    assert (100 * chart.upper, 100 * chart.lower) == pytest.approx((55.8041, 45.8159), abs=1e-4)
    assert chart.provisional and not any(point.signals for point in chart.points)
    told.tell("R99 dry C1.1 1kg -> dried flake 900g")
    chart = asked(told, stage="dry", machine="dryer").chart
    assert [point.run for point in chart.points if point.signals] == [told.code("R99")]


@pytest.mark.django_db
def test_what_makes_no_sense_is_refused():
    told = tell("C1: flake PET 2kg")
    with pytest.raises(Refused):
        asked(told, by="weather")
    with pytest.raises(Refused):
        yields(told.actor, START, START)
    empty = asked(told)
    assert (empty.rows, empty.chain, empty.chart) == ((), None, None)
