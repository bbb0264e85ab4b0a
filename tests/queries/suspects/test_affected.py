"""From a suspect to every spool it reached, and to the way its share took."""

from __future__ import annotations

import pytest

from recycling.models import Composition, Machine
from recycling.queries.suspects.affected import affected
from recycling.queries.suspects.share_paths import suspect_way
from recycling.records.lots.notes import LotEventEntry
from recycling.services.lots.lot_notes import lot_event
from tests.factories import with_scope
from tests.histories import tell
from tests.queries.spoilt import judge, spoilt_book
from tests.services.refusing import refused

pytestmark = pytest.mark.django_db


def test_every_spool_of_a_collection_is_listed_with_its_share():
    told = spoilt_book(spools=4)
    found = affected(told.actor, told.code("C3"))
    stored = {
        part.lot.code: part.mass_mg
        for part in Composition.objects.filter(
            origin__code=told.code("C3"), lot__spool__isnull=False
        ).select_related("lot")
    }
    assert {one.lot: one.part_mg for one in found.spools} == pytest.approx(stored, abs=2)
    assert len(found.spools) == 4
    assert all(one.share == pytest.approx(0.4) for one in found.spools)
    assert told.code("FC.1") in {one.lot for one in found.stock}
    assert found.targets == (told.code("C3"),)


def test_it_says_where_each_is_and_whom_it_went_to():
    told = spoilt_book(spools=2)
    lot_event(told.actor, LotEventEntry(told.code("S0"), "moved", told.now, "shelf 3"))
    told.tell("X1 dispatch S1 300g")
    judge(told, "S1", good=False)
    lots = {one.lot: one for one in affected(told.actor, "origin:" + told.code("C3")).spools}
    assert lots[told.code("S0")].place == "shelf 3"
    gone = lots[told.code("S1")]
    assert (gone.standing, gone.on_hand_mg) == ("bad", 600_000)
    assert (gone.handed[0].mass_mg, gone.handed[0].receiver) == (300_000, "1")
    viewer = with_scope(told.actor, role="viewer")
    hidden = affected(viewer, told.code("C3"))
    assert not hidden.names_shown
    handed = next(one for one in hidden.spools if one.handed).handed[0]
    assert (handed.receiver, handed.document) == ("", "")


def test_holds_that_spread_show_on_what_descends_now_and_later():
    told = spoilt_book(spools=2)
    assert not affected(told.actor, told.code("C2")).held
    told.tell("hold C2.1 spreading")
    found = affected(told.actor, told.code("C2"))
    assert found.held
    assert all(one.held for one in (*found.spools, *found.stock))


def test_a_run_a_machine_and_a_heel_can_be_followed_too():
    told = spoilt_book(spools=2)
    one = affected(told.actor, f"run:{told.code('D1')}")
    assert [spool.lot for spool in one.spools] == [told.code("S1")]
    assert one.targets == (told.code("D1.1"),)
    machine = Machine.objects.get(name="shredder").pk
    assert len(affected(told.actor, f"machine:{machine}").spools) == 2
    heels = tell(
        "O1: heel HDPE 100g in extruder\nP1: pellets PET 5kg\n"
        "R1 extrude P1.1 1kg, O1.1 all -> filament 900g spool"
    )
    assert affected(heels.actor, "heel:HDPE").spools[0].share == pytest.approx(0.1 / 1.1)


def test_a_setting_band_can_be_followed(lead):
    from recycling.records.lots.mass_entries import DrawEntry, OutputEntry, SpoolEntry
    from recycling.records.runs.entries import RunEntry, SettingEntry
    from recycling.services.runs.run_record import run_record

    told = tell("P1: pellets PET 5kg", lead)
    told.hour = 9
    made = run_record(
        told.actor,
        RunEntry(
            "extrude",
            told.now,
            told.now,
            machine=told._machine("extruder", "extruder"),
            inputs=(DrawEntry(told.code("P1.1"), 1_000_000),),
            outputs=(OutputEntry("filament", 900_000, spool=SpoolEntry()),),
            settings=(SettingEntry("zone_1_c", "263", told.now),),
        ),
    )
    key = "setting:extrude:zone_1_c:260 to 270 °C"
    assert affected(told.actor, key).spools[0].lot == made.lots[0].code
    with refused("candidate-unknown"):
        affected(told.actor, "setting:extrude:zone_1_c:10 to 20 °C")


@pytest.mark.parametrize(
    "named", ["", "L888-0", "moon:1", "machine:x", "machine:99999999999999999999", "open:over 24 h"]
)
def test_what_is_no_candidate_is_unknown(named, lead):
    with refused("candidate-unknown"):
        affected(lead, named)


def test_another_workshops_candidates_are_unknown():
    told, strange = spoilt_book(spools=1), spoilt_book(spools=1)
    machine = Machine.objects.filter(workshop_id=strange.actor.workshop_id)[0].pk
    with refused("candidate-unknown"):
        affected(told.actor, f"machine:{machine}")


def test_a_person_is_no_candidate():
    told = spoilt_book(spools=1)
    with refused("candidate-unknown"):
        affected(told.actor, f"operator:{told.actor.member_id}")


def test_a_suspects_share_flows_to_all_it_reached_and_back_from_one_spool():
    told = spoilt_book(spools=4)
    way = suspect_way(told.actor, told.code("C2"))
    ends = {one.code for one in way.lots if one.code.startswith("S")}
    assert ends == {told.code("S1"), told.code("S3")}
    into = [flow for flow in way.flows if flow.run == told.code("D1") and flow.direction == "in"]
    assert [(flow.lot, flow.part_mg) for flow in into] == [(told.code("FB.1"), 600_000)]
    only = suspect_way(told.actor, told.code("C2"), told.code("S3"))
    assert {one.code for one in only.lots if one.code.startswith("S")} == {told.code("S3")}
    assert {told.code("RB"), told.code("FB"), told.code("D3"), told.code("E3")} == {
        one.code for one in only.runs
    }
    last = next(flow for flow in only.flows if flow.lot == told.code("S3"))
    assert last.share == pytest.approx(0.6)
