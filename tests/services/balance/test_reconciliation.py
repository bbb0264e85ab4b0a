"""Reconciling a period: best figures beside the book, suspects with their runs, ties named.

Sources
-------
.. [1] S. Narasimhan and C. Jordache (2000), Data Reconciliation and Gross Error Detection,
   ch. 3 and 7: the figures of two weighings of one flow are the weighted mean of both, and
   gamma is their squared difference over the sum of their variances.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from recycling.ledger.models import Posting
from recycling.models import Job, Reconciliation, Run
from recycling.queries.balance.known_masses import Instruments, figures_of
from recycling.queries.balance.reconciliations import (
    reconciled_flows,
    reconciliation,
    reconciliations,
)
from recycling.records.balance.reconciliations import ReconciliationEntry
from recycling.services.balance import reconciliation as working
from recycling.services.balance.reconciliation import reconciliation_run, reconciliation_start
from shared.errors import Refused, Unknown
from tests.factories import START, ScaleFactory
from tests.histories import tell

CHAIN = """
C1: bottles PET 6kg, 4kg
R1 sort C1.1 6000g, C1.2 4000g -> clean bottles 9500g, caps HDPE 400g, ~residue 100g
R2 shred R1.1 9500g -> flake 9000g, oversize 500g
R3 dry R2.1 9000g -> dried flake 8950g, ~water 50g
"""


def told_chain(text=CHAIN):
    told = tell("")
    ScaleFactory(actor=told.actor, interval_mg=1_000)
    return told.tell(text)


def done(told, start=START - timedelta(days=1), end=START + timedelta(days=400)):
    number = reconciliation_start(told.actor, ReconciliationEntry(start, end))
    reconciliation_run(Job.objects.filter(task__endswith="reconcile_period").latest("pk").pk)
    return number


@pytest.mark.django_db
def test_what_fits_passes_and_stays_as_it_is():
    told = told_chain()
    found = reconciliation(told.actor, done(told))
    assert found.passes and not found.suspects and not found.failure
    rows = reconciled_flows(told.actor, found.number).rows
    assert all(row.reconciled_mg == row.measured_mg for row in rows if row.measured_mg)
    assert all(row.u_reconciled_mg <= row.u_mg * (1 + 1e-9) for row in rows if row.u_mg)


@pytest.mark.django_db
def test_two_weighings_of_one_flow_give_their_weighted_mean():
    told = told_chain("C1: flake PET 1kg\nR1 discard C1.1 998g\ncount R2: C1.1 0g")
    found = reconciliation(told.actor, done(told))
    rows = {row.kind: row for row in reconciled_flows(told.actor, found.number).rows}
    made, drawn = rows["output"], rows["draw"]
    variances = made.u_mg**2, drawn.u_mg**2
    mean = (1_000_000 * variances[1] + 998_000 * variances[0]) / sum(variances)
    assert made.reconciled_mg == drawn.reconciled_mg == round(mean)
    assert found.gamma == pytest.approx(2_000**2 / sum(variances))
    assert found.dof == 1


@pytest.mark.django_db
def test_a_slip_is_set_aside_and_leads_to_its_run_and_posting():
    told = told_chain(
        CHAIN.replace("R3 dry R2.1 9000g", "R3 dry R2.1 8900g").replace(
            "8950g, ~water 50g", "8850g, ~water 50g"
        )
        + "count R4: R2.1 200g"
    )
    before = list(Posting.objects.order_by("pk").values_list("pk", "mass_mg"))
    found = reconciliation(told.actor, done(told))
    assert not found.passes and found.ended
    (suspect,) = found.suspects
    assert suspect.z > suspect.z_limit
    flow = suspect.tied[0]
    assert (flow.run, flow.kind) == (told.code("R4"), "counted")
    assert flow.posting in dict(before)
    assert flow.reconciled_mg == pytest.approx(100_000, abs=3_000)
    assert list(Posting.objects.order_by("pk").values_list("pk", "mass_mg")) == before


@pytest.mark.django_db
@pytest.mark.parametrize("found_g", [1_000, 998])
def test_a_count_weighs_its_lot_whether_it_agrees_or_not(found_g):
    told = told_chain(
        f"C1: flake PET 1kg\ncount R1: C1.1 {found_g}g\nR2 discard C1.1 {found_g}g"
        f"\ncount R3: C1.1 0g"
    )
    found = reconciliation(told.actor, done(told))
    rows = {row.kind: row for row in reconciled_flows(told.actor, found.number).rows}
    weighed = [rows[kind] for kind in ("output", "counted", "draw")]
    assert [row.measured_mg for row in weighed] == [1_000_000, found_g * 1000, found_g * 1000]
    assert rows["counted"].run == told.code("R1")
    assert (found.dof, found.suspects) == (2, ())
    weights = [1 / row.u_mg**2 for row in weighed]
    mean = sum(
        row.measured_mg * weight for row, weight in zip(weighed, weights, strict=True)
    ) / sum(weights)
    assert {row.reconciled_mg for row in weighed} == {round(mean)}
    gamma = sum(
        weight * (row.measured_mg - mean) ** 2 for row, weight in zip(weighed, weights, strict=True)
    )
    assert found.gamma == pytest.approx(gamma, abs=1e-6)


@pytest.mark.django_db
@pytest.mark.parametrize("found_g", [9_000, 8_900])
def test_a_count_is_as_sure_as_the_mass_it_found(found_g):
    told = told_chain(f"C1: flake PET 9kg\ncount R1: C1.1 {found_g}g\nR2 discard C1.1 all")
    found = reconciliation(told.actor, done(told))
    rows = {row.kind: row for row in reconciled_flows(told.actor, found.number).rows}
    assert rows["counted"].u_mg == pytest.approx(rows["output"].u_mg, rel=0.05)
    run = Run.objects.get(code=told.code("R2"))
    (whole,) = figures_of(run, Instruments(run.workshop_id))
    assert whole.by_book and whole.sure.u_mg == pytest.approx(rows["counted"].u_mg)


@pytest.mark.django_db
def test_a_slip_on_an_only_path_is_named_together_with_what_fits_as_badly():
    told = told_chain(CHAIN.replace("dried flake 8950g", "dried flake 8650g"))
    found = reconciliation(told.actor, done(told))
    tied = {(flow.run, flow.kind) for flow in found.suspects[0].tied}
    assert (told.code("R3"), "output") in tied or (told.code("R3"), "draw") in tied


@pytest.mark.django_db
def test_a_lot_taken_whole_was_not_weighed_again():
    told = told_chain("C1: flake PET 1kg\nR1 dry C1.1 all -> dried flake 990g, ~water 10g")
    found = reconciliation(told.actor, done(told))
    rows = {row.kind: row for row in reconciled_flows(told.actor, found.number).rows}
    assert rows["draw"].measured_mg is None
    assert rows["draw"].reconciled_mg == 1_000_000
    assert found.weighed == found.flows - 2


@pytest.mark.django_db
def test_a_period_without_weighings_says_so():
    told = told_chain("")
    found = reconciliation(told.actor, done(told))
    assert "Nothing was weighed" in found.failure and found.done_at
    assert reconciliations(told.actor)[0].number == found.number


@pytest.mark.django_db
def test_what_breaks_is_told_to_whoever_waits(monkeypatch):
    told = told_chain()
    monkeypatch.setattr(working, "reconcile", lambda *_: 1 / 0)
    found = reconciliation(told.actor, done(told))
    assert found.failure == working.BROKE
    assert not Job.objects.filter(task__endswith="reconcile_period", finished_at=None).exists()


@pytest.mark.django_db
def test_a_period_starts_with_what_lots_held():
    told = told_chain()
    found = reconciliation(told.actor, done(told, START + timedelta(hours=1.5)))
    kinds = [row.kind for row in reconciled_flows(told.actor, found.number).rows]
    assert "opening" in kinds and found.passes


@pytest.mark.django_db
def test_something_posted_since_makes_it_stale():
    told = told_chain()
    number = done(told)
    assert not reconciliation(told.actor, number).stale
    told.tell("R9 discard R2.2 100g")
    assert reconciliation(told.actor, number).stale


@pytest.mark.django_db
def test_a_job_that_runs_twice_does_no_harm_and_strangers_see_nothing(lead):
    told = told_chain()
    number = done(told)
    job = Job.objects.filter(task__endswith="reconcile_period").latest("pk")
    assert not reconciliation_run(job.pk)
    assert not reconciliation_run(10**9)
    with pytest.raises(Unknown):
        reconciliation(lead, number)
    with pytest.raises(Refused):
        reconciliation_start(told.actor, ReconciliationEntry(START, START))
    assert Reconciliation.objects.count() == 1
