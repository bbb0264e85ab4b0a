"""Changeovers: the way over a bridging compound, planned against used, the purge at shutdown."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from recycling.queries.energy.machines import machine_page
from recycling.queries.process.changeover_plans import changeover_planned
from recycling.queries.process.changeovers import changeover_desk, changeover_of
from recycling.queries.process.purges import shutdown_advice
from recycling.records.lots.mass_entries import DrawEntry, HeelEntry, OutputEntry, SpoolEntry
from recycling.records.lots.notes import HoldEntry, LotEventEntry
from recycling.records.lots.origin_entries import BagEntry
from recycling.records.process.changeovers import ChangeoverEntry, UsedEntry
from recycling.records.runs.entries import RunEntry
from recycling.records.setup.practice import BarrelEntry, WindowEntry
from recycling.services.lots.holds import hold_place
from recycling.services.lots.lot_notes import lot_event
from recycling.services.process import changeover_plan, changeover_used
from recycling.services.runs.run_open import run_draw, run_open
from recycling.services.runs.run_record import run_record
from recycling.services.setup.practice import barrel_set, window_set
from shared.errors import Conflict, Refused
from tests.energy.conftest import at, setting
from tests.factories import KG, OriginFactory, said_of


@pytest.fixture
def barrel(shop) -> int:
    """A barrel of 41.5 g with PET in it, and a compound from 170 to 320 °C."""
    machine = shop.machine("Barrel one")
    bags = (BagEntry(60_000, form="heel", polymer="PET", machine="Barrel one"),)
    OriginFactory(actor=shop.actor, kind="opening", bags=bags)
    barrel_set(shop.actor, BarrelEntry(machine, 41.5, source="weighed after a strip"))
    window_set(shop.actor, WindowEntry("wide", "purge compound", 170, 320, "data sheet"))
    return machine


def test_two_polyesters_without_overlap_go_over_the_compound(shop, barrel):
    # Levenspiel 1999: 41.5 g down to 5 % take 124.3 g, to 1 % 191.1 g, which leaves 0.0415 % in
    # the next kilogram; 278 to 205 °C at 1.5 K/min and 12 min at 2 g/min are 121.3 g
    plan = changeover_planned(shop.actor, ChangeoverEntry(barrel, "PLA", 278, 205, 1))
    assert (plan.purge, plan.purge_g) == ("wide", pytest.approx(124.3 + 121.3, abs=0.1))
    assert plan.flush_g == pytest.approx(191.1, abs=0.05)
    assert plan.next_residue == pytest.approx(0.000415, abs=5e-7)
    moves = [(step.feed, step.temperatures_c) for step in plan.steps]
    assert moves == [("wide", (278,)), ("wide", (278, 205)), ("PLA", (205,))]
    assert plan.minutes == pytest.approx(60.7 + (124.3 + 191.1) / 8, abs=0.1)
    assert plan.margin_k == pytest.approx(12)
    assert "fumes" in plan.warnings[-1]


def test_a_plan_holds_what_it_feeds_against_the_stock_before_the_first_step(shop, barrel):
    compound = shop.bag("purge compound", 21_000, "wide")
    shop.bag("pellets", KG, "PLA")
    shop.bag("flake", KG, "PLA")  # not ready for the melt
    plan = changeover_planned(shop.actor, ChangeoverEntry(barrel, "PLA", 278, 205, 1))
    rows = {one.material: (round(one.mass_g), one.stock_g, one.enough) for one in plan.needs}
    assert rows == {"wide": (246, 21, False), "PLA": (191, 1000, True)}
    assert plan.warnings[0] == ("wide: 246 g needed, 21 g in stock. Get more before you start.")
    hold_place(shop.actor, HoldEntry(compound, "wet"))
    held = changeover_planned(shop.actor, ChangeoverEntry(barrel, "PLA", 278, 205, 1))
    assert held.needs[0].stock_g == 0


def test_a_bought_compound_is_asked_what_it_is(shop, barrel):
    window_set(shop.actor, WindowEntry("narrow", "purge compound", 200, 300, "data sheet"))
    bags = (BagEntry(KG, form="purge compound", polymer="purge"),)
    bought = OriginFactory(actor=shop.actor, bags=bags)
    code = bought.lots[0].code
    assert [doubt for doubt in said_of(bought) if "which purge compound is it?" in doubt]
    (missing,) = changeover_desk(shop.actor, barrel).missing
    assert (missing.kind, missing.material) == ("which compound", code)
    lot_event(shop.actor, LotEventEntry(code, "note", at(1), note="this is the narrow one"))
    assert changeover_desk(shop.actor, barrel).missing == ()
    named = (BagEntry(KG, form="purge compound", polymer="narrow"),)
    assert OriginFactory(actor=shop.actor, bags=named).doubts == ()


def test_what_a_plan_lacks_is_named_with_its_kind(shop):
    machine = shop.machine("Barrel one")
    assert [one.kind for one in changeover_desk(shop.actor, machine).missing] == ["compound"]
    run_open(
        shop.actor,
        RunEntry(
            "extrude", at(0), machine="Barrel one", inputs=(DrawEntry(shop.bag("pellets"), KG),)
        ),
    )
    kinds = [one.kind for one in changeover_desk(shop.actor, machine).missing]
    assert kinds == ["hold-up", "compound"]


def test_room_enough_needs_no_compound(shop, barrel):
    window_set(shop.actor, WindowEntry("HDPE", "polymer", 180, 300, "data sheet"))
    plan = changeover_planned(shop.actor, ChangeoverEntry(barrel, "HDPE"))
    assert (plan.purge, plan.purge_g) == ("", 0)
    assert plan.flush_g > 0


@pytest.mark.parametrize(
    ("after", "says"), [("PET", "holds PET already"), ("PA", "no temperature range of “PA”")]
)
def test_what_cannot_be_planned_is_said(shop, barrel, after, says):
    with pytest.raises(Refused, match=says):
        changeover_plan(shop.actor, ChangeoverEntry(barrel, after))


def test_without_a_compound_there_is_no_way(shop, barrel):
    window_set(shop.actor, WindowEntry("wide", "purge compound", 170, 230, "newer sheet"))
    with pytest.raises(Refused, match="No purge compound"):
        changeover_plan(shop.actor, ChangeoverEntry(barrel, "PLA", 270, 210))


def test_an_empty_machine_has_nothing_to_change_over(shop):
    with pytest.raises(Refused, match="is empty"):
        changeover_plan(shop.actor, ChangeoverEntry(shop.machine("Barrel one"), "PLA"))


def test_used_stands_beside_planned_and_refits_the_hold_up(shop, barrel):
    plan = changeover_plan(shop.actor, ChangeoverEntry(barrel, "PLA", 270, 210, 1))
    assert changeover_desk(shop.actor, barrel).refit is None
    used = UsedEntry(plan, purge_used_mg=230_258, flush_used_mg=230_258, seen="grey streaks")
    changeover_used(shop.actor, used)
    row = changeover_of(shop.actor, plan)
    assert (row.purge_used_mg, row.seen) == (230_258, "grey streaks")
    refit = changeover_desk(shop.actor, barrel).refit
    # m = H ln(1/0.01) = 4.60517 H, so 230.258 g are a hold-up of 50 g
    assert (refit.holdup_g, refit.uses) == (pytest.approx(50.0, abs=1e-3), 2)
    with pytest.raises(Conflict):
        changeover_used(shop.actor, used)


def test_a_kept_plan_stays_when_windows_change(shop, barrel):
    plan = changeover_plan(shop.actor, ChangeoverEntry(barrel, "PLA", 270, 210))
    before = changeover_of(shop.actor, plan).plan
    window_set(shop.actor, WindowEntry("PLA", "polymer", 190, 235, "data sheet"))
    assert changeover_of(shop.actor, plan).plan == before


def test_a_plan_of_an_earlier_moment_goes_from_what_was_in_the_machine(shop, barrel):
    window_set(shop.actor, WindowEntry("purge", "purge compound", 170, 320, "data sheet"))
    shop.extrude(shop.bag("dried flake"), 2, 3)
    compound = shop.bag("purge compound", KG, "purge")
    run_record(
        shop.actor,
        RunEntry(
            "extrude",
            at(5),
            at(6),
            machine="Barrel one",
            inputs=(DrawEntry(compound, 300_000),),
            outputs=(OutputEntry("changeover scrap", 300_000),),
            heel=HeelEntry(60_000, "purge"),
        ),
    )
    heels = [changeover_planned(shop.actor, ask(barrel, hours)) for hours in (0, 2.5, 4, 5.5)]
    assert [one.before for one in heels] == ["PET", "PET", "PET", "purge"]
    assert [bool(one.heel) for one in heels] == [True, False, True, False]
    assert heels[0].heel != heels[2].heel
    assert [one.at for one in heels] == [at(0), at(2.5), at(4), at(5.5)]
    desk = changeover_desk(shop.actor, barrel)
    assert (desk.before, desk.held_before) == ("purge", True)
    kept = changeover_of(shop.actor, changeover_plan(shop.actor, ask(barrel, 4)))
    assert (kept.before, kept.plan.at, kept.plan.heel) == ("PET", at(4), heels[2].heel)


def purged(shop, **bought: str) -> None:
    """Run a purge compound through the barrel until it alone is in it."""
    bags = (BagEntry(KG, form="purge compound", polymer="purge"),)
    compound = OriginFactory(actor=shop.actor, bags=bags, **bought).lots[0].code
    run_record(
        shop.actor,
        RunEntry(
            "extrude",
            at(5),
            at(6),
            machine="Barrel one",
            inputs=(DrawEntry(compound, 300_000),),
            outputs=(OutputEntry("changeover scrap", 300_000),),
            heel=HeelEntry(60_000, "purge"),
        ),
    )


def from_purge(shop, barrel) -> str:
    return changeover_planned(shop.actor, ChangeoverEntry(barrel, "PLA")).windows_source


def test_a_heel_of_purge_has_the_window_of_the_only_compound(shop, barrel):
    purged(shop, note="two bags")
    assert from_purge(shop, barrel).startswith("wide 170 to 320 °C, data sheet; PLA ")
    assert changeover_desk(shop.actor, barrel).before == "purge"


@pytest.mark.parametrize("field", ["note", "document", "supplier"])
def test_of_several_compounds_that_counts_which_was_bought(shop, barrel, field):
    window_set(shop.actor, WindowEntry("Narrow", "purge compound", 200, 300, "data sheet"))
    purged(shop, **{field: "5 kg of narrow, delivered"})
    assert from_purge(shop, barrel).startswith("Narrow 200 to 300 °C")


@pytest.mark.parametrize("note", ["", "narrow and wide"])
def test_a_heel_of_purge_without_a_name_is_refused_where_there_are_several(shop, barrel, note):
    window_set(shop.actor, WindowEntry("narrow", "purge compound", 200, 300, "data sheet"))
    purged(shop, note=note)
    with pytest.raises(Refused, match="no temperature range of “purge”"):
        from_purge(shop, barrel)
    window_set(shop.actor, WindowEntry("purge", "purge compound", 180, 310, "data sheet"))
    assert from_purge(shop, barrel).startswith("purge 180 to 310 °C")


def ask(barrel: int, hours: float) -> ChangeoverEntry:
    return ChangeoverEntry(barrel, "PLA", 270, 210, 1, at(hours))


def test_a_moment_before_the_heel_and_one_to_come_are_refused(shop, barrel):
    with pytest.raises(Refused, match="was empty then"):
        changeover_plan(shop.actor, ask(barrel, -24 * 365))
    later = ChangeoverEntry(barrel, "PLA", at=timezone.now() + timedelta(hours=1))
    with pytest.raises(Refused, match="is not known") as refused:
        changeover_planned(shop.actor, later)
    assert refused.value.problems[0].code == "time-in-future"


def test_without_an_entered_hold_up_the_heel_of_then_is_it(shop):
    machine = shop.machine("Barrel one")
    bags = (BagEntry(60_000, form="heel", polymer="PET", machine="Barrel one"),)
    OriginFactory(actor=shop.actor, kind="opening", bags=bags)
    window_set(shop.actor, WindowEntry("wide", "purge compound", 170, 320, "data sheet"))
    run_record(
        shop.actor,
        RunEntry(
            "extrude",
            at(2),
            at(3),
            machine="Barrel one",
            inputs=(DrawEntry(shop.bag("dried flake"), KG),),
            outputs=(OutputEntry("filament", 980_000, spool=SpoolEntry(tare_mg=200_000)),),
            heel=HeelEntry(80_000, "PET"),
        ),
    )
    assert changeover_planned(shop.actor, ask(machine, 1)).holdup_g == 60
    assert changeover_planned(shop.actor, ask(machine, 4)).holdup_g == 80


def test_a_barrel_hotter_than_its_polymer_stands_is_warned_of(shop, barrel):
    flake = shop.bag("dried flake")
    run_open(
        shop.actor,
        RunEntry(
            "extrude",
            at(0),
            machine="Barrel one",
            inputs=(DrawEntry(flake, KG),),
            settings=(setting("zone_1_c", 320, 0), setting("zone_2_c", 260, 0)),
        ),
    )
    desk = changeover_desk(shop.actor, barrel)
    assert desk.last_c == 320
    assert any("above its temperature range" in one for one in desk.warnings)


def test_a_purge_is_proposed_until_the_run_drew_as_much(shop, barrel):
    flake, compound = shop.bag("dried flake"), shop.bag("purge compound", KG, "purge")
    run = run_open(
        shop.actor,
        RunEntry("extrude", at(0), machine="Barrel one", inputs=(DrawEntry(flake, KG),)),
    )
    advice = shutdown_advice(shop.actor, run.code)
    assert (advice.purge_g, advice.done) == (50, False)  # common practice: about 50 g
    assert advice.source == "default, not checked"
    run_draw(shop.actor, run.code, [DrawEntry(compound, 50_000)], at(1))
    assert shutdown_advice(shop.actor, run.code).done
    run_draw(shop.actor, run.code, [DrawEntry(flake, KG)], at(2))
    again = shutdown_advice(shop.actor, run.code)
    assert (again.purge_drawn_mg, again.done) == (0, False), "what was fed since is to be purged"
    dry, _ = shop.dry(shop.bag(), 0, 1)
    assert shutdown_advice(shop.actor, dry) is None


def test_without_a_figure_the_heel_is_the_hold_up(shop):
    bags = (BagEntry(60_000, form="heel", polymer="PET", machine="Barrel one"),)
    OriginFactory(actor=shop.actor, kind="opening", bags=bags)
    page = machine_page(shop.actor, shop.machine("Barrel one"))
    assert page.barrel.holdup_g == 60.0
    assert "computed" in page.barrel.source
