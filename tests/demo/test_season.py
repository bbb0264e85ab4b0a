"""The demo's season looks like a real book and holds together. Its figures are invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from recycling.demo import cast
from recycling.demo.season import make_season
from recycling.models import (
    ChangeEvent,
    Hold,
    Lot,
    LotEvent,
    Member,
    Origin,
    Run,
    Spool,
    Verdict,
    Workshop,
)
from recycling.queries.balance.balance import balance_now, statement
from recycling.queries.integrity.audit import audit
from recycling.queries.lots.holds import holds
from recycling.queries.lots.origins import lot_origins, origin_spools
from recycling.queries.people.members import memberships
from recycling.queries.people.workshops import workshop_ids
from recycling.queries.suspects.exposures import exposures

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


def test_the_audit_finds_nothing(lead):
    assert {slug: audit(key) for slug, key in workshop_ids().items()} == {
        "chapel-yard": [],
        "tidemill": [],
    }


def test_it_spans_three_months_and_ends_yesterday(lead):
    moments = Run.objects.filter(workshop_id=lead.workshop_id, state="closed").order_by("ended_at")
    first, last = moments.first().ended_at, moments.last().ended_at
    assert last - first >= timedelta(days=92)
    assert timezone.now() - last < timedelta(days=3)


def test_it_has_the_collections_it_promises(lead):
    came = Origin.objects.filter(workshop_id=lead.workshop_id, kind="collection")
    assert came.count() >= 30
    assert came.values("source").distinct().count() == 10
    assert came.exclude(programme=None).values("programme").distinct().count() == 2


def test_every_stage_was_at_work(lead):
    runs = Run.objects.filter(workshop_id=lead.workshop_id)
    stages = set(runs.values_list("stage", flat=True))
    assert stages == {
        *("receive", "sort", "wash", "cut", "shred", "screen", "dry"),
        *("extrude", "wind", "dispatch", "discard", "count"),
    }


def test_spools_are_many_and_irregular(lead):
    spools = Spool.objects.filter(lot__workshop_id=lead.workshop_id)
    assert spools.count() >= 60
    masses = list(spools.values_list("lot__made_mg", flat=True))
    assert len(set(masses)) > len(masses) / 2
    assert all(0.3e6 < mass < 0.85e6 for mass in masses)


def test_two_polymers_are_parted_by_purges_and_the_heel_goes_from_run_to_run(lead):
    runs = Run.objects.filter(workshop_id=lead.workshop_id, stage="extrude", state="closed")
    assert set(runs.values_list("polymer", flat=True)) >= {"PET", "PLA"}
    foreign = 0
    for run in runs.filter(polymer__in=["PET", "PLA"]).order_by("number"):
        drawn = set(run.draws.values_list("lot__form", "lot__polymer"))
        heels = {polymer for form, polymer in drawn if form == "heel"}
        if heels & ({"PET", "PLA"} - {run.polymer}):
            foreign += 1
            assert ("purge compound", "purge") in drawn
    assert foreign >= 2
    assert runs.filter(outputs__form="heel", outputs__polymer="purge").exists()


def test_oversize_goes_round_again_and_caps_go_to_the_partner(lead):
    drawn = Lot.objects.filter(workshop_id=lead.workshop_id, draws__mass_mg__gt=0)
    assert drawn.filter(form="oversize", draws__run__stage="shred").exists()
    caps = drawn.filter(form="caps", polymer="HDPE", draws__run__stage="dispatch")
    assert caps.filter(draws__run__checks__value=cast.PARTNER).exists()


def test_there_are_corrections_a_void_and_a_count(lead):
    book = Workshop.objects.get(pk=lead.workshop_id).book
    assert book.entries.filter(kind="correct").count() == 2
    assert Run.objects.filter(workshop_id=lead.workshop_id, state="void").count() == 1
    assert book.entries.filter(kind="count").count() == 1
    assert ChangeEvent.objects.filter(workshop_id=lead.workshop_id, deed="void").count() == 1


def test_one_hold_stands_with_what_descends_and_one_was_released(lead):
    (released,) = holds(lead, active=False)
    assert released.release_reason
    standing = holds(lead)
    assert standing and all(hold.with_descendants for hold in standing)


def test_a_run_is_going_on_and_can_go_on(lead):
    (going,) = Run.objects.filter(workshop_id=lead.workshop_id, state="open")
    now = balance_now(lead)
    (inside,) = now.in_process
    assert inside.run == going.code and inside.mass_mg > 0
    assert now.total_mg == 0
    assert going.settings_log.count() > 5


def test_one_collection_is_really_to_blame(lead):
    from scipy.stats import fisher_exact

    judged = {v.lot.code: v.good for v in Verdict.objects.select_related("lot")}
    assert len(judged) >= 25 and 5 <= list(judged.values()).count(False) <= 15
    blamed = Hold.objects.filter(released_at=None).first().lot.origin
    assert blamed.source.name == cast.BIN
    chances = {}
    for origin in Origin.objects.filter(workshop_id=lead.workshop_id, kind="collection"):
        much = {one.lot for one in origin_spools(lead, origin.code) if one.share > 0.12}
        table = [[0, 0], [0, 0]]
        for code, good in judged.items():
            table[code not in much][good] += 1
        chances[origin.code] = fisher_exact(table, alternative="greater").pvalue
    assert min(chances, key=chances.__getitem__) == blamed.code
    assert chances[blamed.code] < 0.05 / len(chances)
    assert sorted(chances.values())[1] > 10 * chances[blamed.code]


def test_spools_were_sealed_drums_opened_and_things_noted(lead):
    kinds = set(LotEvent.objects.values_list("kind", flat=True))
    assert kinds >= {"sealed", "opened", "printed"}


def test_the_statement_closes_and_spools_add_up(lead):
    lines = statement(lead, datetime(2000, 1, 1, tzinfo=UTC), timezone.now())
    assert [line.difference_mg for line in lines] == [0] * len(lines)
    for code in Spool.objects.values_list("lot__code", flat=True)[::9]:
        origins = lot_origins(lead, code)
        assert sum(part.mass_mg for part in origins.origins) + origins.traces_mg == origins.mass_mg


def test_people_can_switch_between_two_workshops(lead):
    user = Member.objects.get(workshop_id=lead.workshop_id, role="lead").user
    assert {one.slug for one in memberships(user.pk)} == {"tidemill", "chapel-yard"}
    roles = Member.objects.filter(workshop_id=lead.workshop_id).values_list("role", flat=True)
    assert sorted(roles) == ["lead", "operator", "viewer"]


def test_a_second_time_nothing_is_made(lead):
    before = (Run.objects.count(), Lot.objects.count(), Workshop.objects.count())
    assert not make_season(timezone.now())
    assert (Run.objects.count(), Lot.objects.count(), Workshop.objects.count()) == before


def test_the_search_has_the_shares_that_the_spools_pages_have(lead):
    """Every lot of filament: origins as they are stored, and what was set adds up to one a pass."""
    lots = {
        lot.pk: lot
        for lot in Lot.objects.filter(
            workshop_id=lead.workshop_id, form="filament", made_mg__gt=0
        ).prefetch_related("composition__origin")
    }
    found = exposures(list(lots))
    shares: dict[int, dict[str, float]] = {pk: {} for pk in lots}
    for row, column, share in zip(
        found.shares.spool, found.shares.candidate, found.shares.share, strict=True
    ):
        shares[found.lots[row]][found.candidates[column].key] = share
    assert len(lots) > 40
    assert Run.objects.filter(composition_model="feed order", outputs__in=lots).exists()
    for pk, lot in lots.items():
        stored = {f"origin:{one.origin.code}": one.mass_mg for one in lot.composition.all()}
        mine = {key: share for key, share in shares[pk].items() if key.startswith("origin:")}
        for key in stored.keys() | mine.keys():
            assert abs(mine.get(key, 0.0) - stored.get(key, 0) / lot.made_mg) < 0.002
        zones = [share for key, share in shares[pk].items() if ":extrude:zone_1_c:" in key]
        assert 0.999 < sum(zones) < 1.3, "more than one only where scrap was melted again"
